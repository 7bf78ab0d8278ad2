/** What the API is made of. */

import type { TelemetryReceiver } from '@warmbrick/contracts';
import type { MachineProfile } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger } from 'fastify';
import type { AccessOptions } from './access/access.js';
import type { EventHub } from './events/event-hub.js';

export interface AppDeps {
  readonly store: Store;
  readonly logger: FastifyBaseLogger;
  readonly events: EventHub;
  /** Folder with the built console; without it only the API is served. */
  readonly siteDir?: string | undefined;
  /** Takes what is sent to POST /v1/telemetry and /v1/faults; without it there are no such addresses. */
  readonly telemetry?: TelemetryReceiver | undefined;
  /** Told of a profile that was changed, so that what is analysed from now on goes by it. */
  readonly onProfile?: ((machineId: string, profile: MachineProfile) => Promise<void>) | undefined;
  /** Who may get in. Default: API keys, and this computer itself as long as nobody holds an admin's key for all fleets. */
  readonly access?: AccessOptions | undefined;
  readonly limits?: Partial<AppLimits> | undefined;
  /** Host names (without port) that are served; default: any. */
  readonly hostNames?: readonly string[] | undefined;
}

export interface AppLimits {
  readonly requestsPerMinute: number;
  /** How long the fleet page rests before it is computed again, in terms of the time it took; 0 computes after each change. */
  readonly answerRestRatio: number;
  /** A process whose event loop lags longer than this answers 503 at once; 0 never does. */
  readonly mostLoopDelayMs: number;
  /** Open event streams at most. */
  readonly streams: number;
  /** Bytes that a listener may be behind for longer than the grace; one that is eight times as far behind is dropped at once. */
  readonly streamBacklogBytes: number;
  readonly streamGraceMs: number;
  readonly heartbeatMs: number;
}
