import { useSignal } from '@preact/signals';
import type { Inspection, InspectionItem, Problem, ShiftDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { formatInstantShort } from '../format/instant.js';
import { inspectionItems, inspectionWords } from './shift-words.js';

interface InspectionFormProps {
  readonly shift: ShiftDocument;
  readonly machineId: string;
  readonly timeZone: string;
  readonly reload: () => void;
}

type Tick = 'in-order' | 'not-in-order' | null;

/** Where the name is kept on this device, so that an operator types it once. */
const nameKey = 'warmbrick-operator';

/** What the operator looked at. What was ticked before stays in the history. */
export function InspectionForm({ shift, machineId, timeZone, reload }: InspectionFormProps) {
  const standing = shift.inspection;
  const ticks = useSignal<Record<string, Tick>>({ ...standing?.ticks });
  const note = useSignal(standing?.note ?? '');
  const by = useSignal(rememberedName());
  const problem = useSignal<Problem | null>(null);
  const isSaving = useSignal(false);
  const isOpen = useSignal(standing === null && !shift.isOver);
  const save = async (event: Event) => {
    event.preventDefault();
    isSaving.value = true;
    rememberName(by.value);
    const body = { by: by.value, ticks: ticks.value, note: note.value, basedOn: standing?.version ?? 0 };
    const answer = await api.postMachineShiftInspection({ path: { machineId, shiftStart: shift.startedAt }, body });
    isSaving.value = false;
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok || answer.problem.code === 'edited-meanwhile') reload();
  };
  const name = `inspection-${shift.startedAt}`;
  return (
    <details
      class="inspection"
      open={isOpen.value}
      onToggle={(event) => {
        isOpen.value = event.currentTarget.open;
      }}
    >
      <summary>
        Looked at{' '}
        <span class="quiet">
          {standing === null
            ? 'nothing yet'
            : `by ${standing.by}, ${formatInstantShort(Date.parse(standing.at), timeZone, nowMs.value)}`}
        </span>
      </summary>
      <form onSubmit={save}>
        {inspectionItems.map((item) => (
          <TickRow
            key={item}
            name={`${name}-${item}`}
            item={item}
            value={ticks.value[item] ?? null}
            choose={(value) => {
              ticks.value = { ...ticks.value, [item]: value };
            }}
          />
        ))}
        <label class="field">
          <span>Remark</span>
          <textarea
            rows={2}
            maxLength={1000}
            value={note.value}
            onInput={(e) => (note.value = e.currentTarget.value)}
          />
        </label>
        <label class="field">
          <span>Your name</span>
          <input
            type="text"
            required
            maxLength={80}
            autocomplete="name"
            value={by.value}
            onInput={(e) => (by.value = e.currentTarget.value)}
          />
        </label>
        {problem.value !== null && (
          <p class="problem" role="alert">
            {problem.value.detail ?? problem.value.title}
          </p>
        )}
        <button type="submit" disabled={isSaving.value}>
          {standing === null ? 'Save' : 'Save as correction'}
        </button>
      </form>
      {shift.inspectionHistory.length > 1 && <History versions={shift.inspectionHistory} timeZone={timeZone} />}
    </details>
  );
}

interface TickRowProps {
  readonly name: string;
  readonly item: InspectionItem;
  readonly value: Tick;
  readonly choose: (value: Tick) => void;
}

function TickRow({ name, item, value, choose }: TickRowProps) {
  const { name: title, hint } = inspectionWords[item];
  const option = (tick: Exclude<Tick, null>, words: string) => (
    <label class="tick-option">
      <input type="radio" name={name} checked={value === tick} onChange={() => choose(tick)} />
      <span>{words}</span>
    </label>
  );
  return (
    <fieldset class="tick-row">
      <legend>{title}</legend>
      <p class="quiet">{hint}</p>
      <div class="tick-options">
        {option('in-order', 'In order')}
        {option('not-in-order', 'Not in order')}
      </div>
    </fieldset>
  );
}

function History({ versions, timeZone }: { readonly versions: readonly Inspection[]; readonly timeZone: string }) {
  return (
    <details class="tick-history">
      <summary>All {versions.length} versions</summary>
      <ol>
        {[...versions].reverse().map(({ version, at, by, ticks, note }) => (
          <li key={version}>
            <strong>{by}</strong>, {formatInstantShort(Date.parse(at), timeZone, nowMs.value)}: {ticksInWords(ticks)}
            {note !== '' && `. ${note}`}
          </li>
        ))}
      </ol>
    </details>
  );
}

function ticksInWords(ticks: Inspection['ticks']): string {
  const made = inspectionItems.filter((item) => ticks[item] !== null);
  if (made.length === 0) return 'nothing ticked';
  return made
    .map((item) => `${inspectionWords[item].name} ${ticks[item] === 'in-order' ? 'in order' : 'not in order'}`)
    .join(', ');
}

function rememberedName(): string {
  try {
    return localStorage.getItem(nameKey) ?? '';
  } catch {
    return '';
  }
}

function rememberName(name: string): void {
  try {
    localStorage.setItem(nameKey, name);
  } catch {
    // A browser that keeps nothing asks for the name again.
  }
}
