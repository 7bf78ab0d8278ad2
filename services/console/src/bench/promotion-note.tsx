import type { MachineDetail, PromotionDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { formatInstant } from '../format/instant.js';

/** Promotions that are shown; `warmbrick sets` lists all. */
const mostShown = 5;

interface NoteProps {
  readonly detail: MachineDetail;
  readonly timeZone: string;
}

/** Which sets were put in force for this machine, from when, by whom and why, and what became of the past. */
export function PromotionNote({ detail, timeZone }: NoteProps) {
  const answer = useCall((signal) => api.getSetPromotions({ signal }), detail.machineId).value;
  if (answer?.ok !== true) return null;
  const own = answer.body.items.filter(({ scope }) => concerns(scope, detail)).slice(-mostShown);
  const nowMs = Date.now();
  return (
    <section class="promotions">
      <h2>In force</h2>
      <p>
        Findings are made by the set <b>{detail.thresholdSet}</b>.
      </p>
      {own.length > 0 && (
        <ul>
          {own.reverse().map((one) => (
            <li key={one.id}>
              <b>{one.version ?? 'no set of its own'}</b> for {scopeWords(one.scope)} from{' '}
              <time dateTime={one.from}>{formatInstant(Date.parse(one.from), timeZone, nowMs)}</time>;{' '}
              {one.isRecomputed
                ? `the past is judged anew as machines send (${one.recomputedMachines} so far)`
                : 'what was before stays as it was judged'}
              .{' '}
              <span class="quiet">
                {one.author}: {one.reason}
              </span>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function concerns({ kind, name }: PromotionDocument['scope'], { machineId, profile }: MachineDetail): boolean {
  if (kind === 'all') return true;
  if (kind === 'fleet') return name === (profile.fleet ?? 'main');
  return name === (kind === 'class' ? profile.machineClass : machineId);
}

function scopeWords({ kind, name }: PromotionDocument['scope']): string {
  if (kind === 'all') return 'all machines';
  return kind === 'machine' ? 'this machine' : `the ${kind} ${name}`;
}
