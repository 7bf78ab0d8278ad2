/** How fast something goes through a known number of messages: all in all, and while it is at full speed. */

export interface PaceFigures {
  /** From the beginning to the last message, s. */
  readonly wholeS: number;
  /** Processor time in it, s. */
  readonly wholeCpuS: number;
  /** Messages a second from the first tenth of them to nine tenths. */
  readonly steadyPerS: number;
  /** Processor time a message in that part, s. */
  readonly steadyCpuS: number;
}

interface Mark {
  readonly ms: number;
  readonly done: number;
  readonly cpuS: number;
}

/** The part that is measured: what comes before is starting, what comes after the last partition alone. */
const [fromShare, toShare] = [0.1, 0.9];

/** Takes notes of `messages` messages. Processor times are those since any fixed moment. */
export function createPace(messages: number) {
  const marks: Mark[] = [];
  let began: Mark | null = null;
  return {
    begin(cpuS: number): void {
      began ??= { ms: performance.now(), done: 0, cpuS };
    },
    tell(done: number, cpuS: number): void {
      if (done !== marks.at(-1)?.done) marks.push({ ms: performance.now(), done, cpuS });
    },
    end(cpuS: number): PaceFigures {
      const last = { ms: performance.now(), done: messages, cpuS };
      const first = began ?? last;
      const at = (share: number) => marks.find(({ done }) => done >= share * messages) ?? last;
      const [from, to] = [at(fromShare), at(toShare)];
      return {
        wholeS: (last.ms - first.ms) / 1000,
        wholeCpuS: cpuS - first.cpuS,
        steadyPerS: ((to.done - from.done) / (to.ms - from.ms)) * 1000,
        steadyCpuS: (to.cpuS - from.cpuS) / (to.done - from.done),
      };
    },
  };
}
