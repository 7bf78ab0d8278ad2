/** What the parts of the form of a rule share. */

import type { RuleDraft } from './rule-draft.js';

export interface FieldsProps {
  readonly draft: RuleDraft;
  readonly change: (part: Partial<RuleDraft>) => void;
}

export const severityChoices = [
  ['info', 'for the record'],
  ['notice', 'notice'],
  ['warning', 'warning'],
  ['severe', 'severe'],
] as const;
