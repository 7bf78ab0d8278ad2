/**
 * Exit codes of the command: done; done, but a recording was cut short or damaged, or an audit found a difference; the
 * user's input or usage is wrong; the program or its surroundings failed.
 */
export const exitCodes = { done: 0, damaged: 1, different: 1, usage: 2, failed: 3 } as const;
