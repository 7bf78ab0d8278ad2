export * from './consumer-types.js';
export * from './create-kafka.js';
export * from './create-producer.js';
export * from './ensure-topics.js';
export { judgeLife, type SignsOfLife, type StuckReason } from './judge-life.js';
export { type BatchPlan, type FetchedRange, planBatch } from './plan-batch.js';
export { assignPartitions, type Member, type TopicPartition } from './rendezvous-assigner.js';
export { runConsumer } from './run-consumer.js';
export { compressSnappy, decompressSnappy } from './snappy-codec.js';
