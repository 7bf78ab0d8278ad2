/** Waiting with an end. */

/** Waits for a job, but no longer than `withinMs`; true when it ended in time, well or badly. Never throws. */
export async function waitAtMost(job: Promise<unknown>, withinMs: number): Promise<boolean> {
  let timer: NodeJS.Timeout | undefined;
  const ended = job.then(
    () => true,
    () => true,
  );
  const late = new Promise<boolean>((resolve) => {
    timer = setTimeout(() => resolve(false), withinMs);
  });
  const isInTime = await Promise.race([ended, late]);
  clearTimeout(timer);
  return isInTime;
}
