export { type AlertClock, type AlertClockOptions, startAlertClock } from './alerting/start-alert-clock.js';
export { type ExplainedIngestSetting, explainIngestConfig, type IngestConfig, ingestConfigSchema } from './config.js';
export * from './create-ingest.js';
export {
  type DerateInquirer,
  type DerateInquirerOptions,
  startDerateInquirer,
} from './derates/derate-inquirer.js';
export { type InquiryStore, inquireMachine } from './derates/inquire-machine.js';
export { directIntake } from './direct-intake.js';
export { type FolderSettings, folderSettingsSchema } from './folder/folder-settings.js';
export { type FolderOptions, type FolderStats, type FolderWatch, watchFolder } from './folder/watch-folder.js';
export { type HttpIntakeSettings, httpIntakeSettingsSchema } from './http/http-settings.js';
export { createTelemetryReceiver, type TelemetryReceiverOptions } from './http/telemetry-receiver.js';
export {
  type InducementWatch,
  type InducementWatchOptions,
  startInducementWatch,
} from './inducement/inducement-watch.js';
export type { AcceptOptions, Ingest, IngestLimits, IngestLogger, IngestOptions, IngestStats } from './ingest-types.js';
export type { Intake, IntakeOrigin } from './intake.js';
export { cursorSource } from './kafka/cursor-source.js';
export {
  type FindingsPublisher,
  newsIdHeader,
  type PublisherLimits,
  type PublisherOptions,
  startFindingsPublisher,
} from './kafka/findings-publisher.js';
export { createIngestMeter, type IngestMeter } from './kafka/ingest-meter.js';
export { type KafkaIngestSettings, usualKafkaSettings } from './kafka/kafka-settings.js';
export { type PublishOptions, publishRejects } from './kafka/publish-rejects.js';
export {
  type KafkaIngest,
  type KafkaIngestOptions,
  type KafkaIngestStats,
  startKafkaIngest,
} from './kafka/start-kafka-ingest.js';
export { kafkaIntake, type Produce, type ProducedMessage } from './kafka-intake.js';
export { type KeepRejectsOptions, keepMqttRejects } from './mqtt/keep-rejects.js';
export { type MqttSettings, mqttSettingsSchema } from './mqtt/mqtt-settings.js';
export {
  type MqttIntake,
  type MqttIntakeOptions,
  type MqttIntakeStats,
  startMqttIntake,
} from './mqtt/start-mqtt-intake.js';
export { type ServiceWatch, type ServiceWatchOptions, startServiceWatch } from './service/service-watch.js';
export type { FeedClock } from './standard-feed/feed-client.js';
export type { FeedRound } from './standard-feed/feed-round.js';
export { type FeedProvider, feedProviderSchema } from './standard-feed/feed-settings.js';
export {
  pollStandardFeed,
  type StandardFeed,
  type StandardFeedOptions,
  type StandardFeedStats,
} from './standard-feed/poll-standard-feed.js';
export { type StoreUpkeep, startStoreUpkeep, type UpkeepOptions, usualRetention } from './store-upkeep.js';
