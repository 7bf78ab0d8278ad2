/** Settings of the MQTT intake. */

import { z } from 'zod';

const topicPattern = z
  .string()
  .min(1)
  .max(200)
  .refine(
    (text) => text.split('{machineId}').length <= 2 && !/[{}]/.test(text.replace('{machineId}', '')),
    'write {machineId} once at most, as a whole level, as in machines/{machineId}/samples',
  );

/** Source of all defaults: engineering judgement, where nothing else is said. */
export const mqttSettingsSchema = z.strictObject({
  /** Where the broker is, such as mqtts://broker.example:8883. */
  url: z.url({ protocol: /^(mqtts?|wss?)$/ }),
  /** Names the session that the broker keeps for us; two processes with one name throw each other out. */
  clientId: z.string().min(1).max(200),
  username: z.string().min(1).optional(),
  password: z.string().min(1).optional().meta({ secret: true }),
  /** File with the certificates of the authorities that the broker's may come from; default: those of Node. */
  caFile: z.string().min(1).optional(),
  topics: z
    .strictObject({
      /** Messages of samples; `{machineId}` stands for one level, `+` and `#` are those of MQTT. */
      samples: topicPattern.default('machines/{machineId}/samples'),
      /** Messages of fault reports. */
      faults: topicPattern.default('machines/{machineId}/faults'),
    })
    .prefault({}),
  /** 4 is MQTT 3.1.1, 5 is MQTT 5.0. */
  protocolVersion: z.union([z.literal(4), z.literal(5)]).default(5),
  /** Group that shares the messages between its members; needs MQTT 5. */
  shareGroup: z
    .string()
    .regex(/^[^/+#]{1,64}$/)
    .optional(),
  keepaliveS: z.number().int().min(5).max(3600).default(30),
  /** How long the broker keeps our session while we are away; MQTT 5 only. Default: a week. */
  sessionExpiryS: z.number().int().min(60).max(0xfffffffe).default(604_800),
  /** Messages held at most; with MQTT 5 the broker is told. Each batch of them is one transaction. */
  unacknowledged: z.number().int().min(1).max(65_535).default(200),
  /** Waits between tries to connect or to store; they double from the first to the longest. */
  firstRetryMs: z.number().int().min(1).default(500),
  longestRetryMs: z.number().int().min(1).default(30_000),
});

export type MqttSettings = z.output<typeof mqttSettingsSchema>;
export type MqttSettingsInput = z.input<typeof mqttSettingsSchema>;
