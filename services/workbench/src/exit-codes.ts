/**
 * Exit codes of the command: done; done, but a recording was cut short or damaged; the user's input or usage is wrong;
 * the program or its surroundings failed.
 */
export const exitCodes = { done: 0, damaged: 1, usage: 2, failed: 3 } as const;
