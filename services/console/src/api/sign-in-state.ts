/** Whether the server wants to know who is there. */

import { signal } from '@preact/signals';

/** True from the first refusal until somebody signs in. */
export const isSignInNeeded = signal(false);

/** Notes that a request was refused for want of a key. */
export function noteSignInNeeded(): void {
  isSignInNeeded.value = true;
}
