/** Topics with a place for the machine: from pattern to filter, and from topic to machine. */

export interface TopicPattern {
  /** What to subscribe to. */
  readonly filter: string;
  /** The machine that a topic names, '' when the pattern has no place for one; null for a topic of another pattern. */
  match(topic: string): string | null;
}

const machineLevel = '{machineId}';

/** Reads a pattern such as `machines/{machineId}/samples`. Source of the wildcards: MQTT 5.0, 4.7.1. */
export function parseTopicPattern(pattern: string): TopicPattern {
  const levels = pattern.split('/');
  const isOpen = levels.at(-1) === '#';
  const fixed = isOpen ? levels.slice(0, -1) : levels;
  return {
    filter: levels.map((level) => (level === machineLevel ? '+' : level)).join('/'),
    match(topic) {
      const found = topic.split('/');
      if (isOpen ? found.length < fixed.length : found.length !== fixed.length) return null;
      let machineId = '';
      for (const [at, level] of fixed.entries()) {
        if (level === machineLevel) machineId = found[at] as string;
        else if (level !== '+' && level !== found[at]) return null;
      }
      return machineId;
    },
  };
}
