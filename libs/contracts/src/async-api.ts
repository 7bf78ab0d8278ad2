/** The topics as an AsyncAPI document, made of the schemas that decode their messages. */

import { z } from 'zod';
import {
  alertMessageSchema,
  faultMessageSchema,
  findingMessageSchema,
  frameMessageSchema,
  packetMessageSchema,
  rejectMessageSchema,
  sampleMessageSchema,
  topics,
} from './topics.js';

interface Channel {
  readonly topic: string;
  readonly title: string;
  /** Whether we read what others write, or write what others read. */
  readonly action: 'receive' | 'send';
  readonly messages: Readonly<Record<string, z.ZodType>>;
}

const channels: Readonly<Record<keyof typeof topics, Channel>> = {
  samples: {
    topic: topics.samples,
    title: 'Samples of machines: single ones, packets of many, or raw CAN frames',
    action: 'receive',
    messages: {
      SampleMessage: sampleMessageSchema,
      PacketMessage: packetMessageSchema,
      FrameMessage: frameMessageSchema,
    },
  },
  faults: {
    topic: topics.faults,
    title: 'Lists of fault codes as controllers report them',
    action: 'receive',
    messages: { FaultMessage: faultMessageSchema },
  },
  rejects: {
    topic: topics.rejects,
    title: 'Messages that were not taken, or not whole',
    action: 'send',
    messages: { RejectMessage: rejectMessageSchema },
  },
  findings: {
    topic: topics.findings,
    title: 'Findings as they are made, changed and withdrawn',
    action: 'send',
    messages: { FindingMessage: findingMessageSchema },
  },
  alerts: {
    topic: topics.alerts,
    title: "Steps of alerts' lives",
    action: 'send',
    messages: { AlertMessage: alertMessageSchema },
  },
};

/**
 * The document; the key of every message is the machine's id.
 *
 * Source: AsyncAPI Specification 3.0.0.
 */
export function asyncApiDocument(): object {
  const names = Object.keys(channels) as (keyof typeof topics)[];
  const messages = names.flatMap((name) => Object.entries(channels[name].messages));
  return {
    asyncapi: '3.0.0',
    info: { title: 'Warmbrick', version: '1', description: 'Topics of version 1. Messages are JSON in UTF-8.' },
    defaultContentType: 'application/json',
    channels: Object.fromEntries(names.map((name) => [name, channelOf(channels[name])])),
    operations: Object.fromEntries(
      names.map((name) => [
        `${channels[name].action}${name.charAt(0).toUpperCase()}${name.slice(1)}`,
        { action: channels[name].action, channel: { $ref: `#/channels/${name}` } },
      ]),
    ),
    components: {
      messages: Object.fromEntries(messages.map(([name, schema]) => [name, messageOf(name, schema)])),
    },
  };
}

function channelOf({ topic, title, messages }: Channel): object {
  const references = Object.keys(messages).map((name) => [name, { $ref: `#/components/messages/${name}` }]);
  return { address: topic, title, messages: Object.fromEntries(references) };
}

function messageOf(name: string, schema: z.ZodType): object {
  const {
    $schema: _,
    id: __,
    ...payload
  } = z.toJSONSchema(schema, {
    io: 'input',
    reused: 'inline',
    target: 'draft-07',
    unrepresentable: 'any',
  });
  return {
    name,
    contentType: 'application/json',
    bindings: { kafka: { key: { type: 'string', description: 'The id of the machine.' } } },
    payload,
  };
}
