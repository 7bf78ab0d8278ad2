/** The name under which the store keeps the positions of a topic. */
export function cursorSource(topic: string): string {
  return `kafka/${topic}`;
}
