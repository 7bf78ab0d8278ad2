import { useSignal } from '@preact/signals';
import type { Problem, RuleTried } from '@warmbrick/contracts';
import { api, type PostRulesTryBody } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { formatInstantShort } from '../format/instant.js';
import { inFleet } from '../routing/fleet-choice.js';
import { RuleProblem } from './rule-problem.js';

/** Openings shown on the page. */
const mostShown = 20;

/** Tries a rule on the last week and says how often it would have opened. */
export function RuleTry({ rule }: { readonly rule: unknown }) {
  const tried = useSignal<RuleTried | null>(null);
  const problem = useSignal<Problem | null>(null);
  const isTrying = useSignal(false);
  const tryIt = async () => {
    isTrying.value = true;
    const answer = await api.postRulesTry({ body: { ...inFleet.value, rule: rule as PostRulesTryBody['rule'] } });
    isTrying.value = false;
    problem.value = answer.ok ? null : answer.problem;
    tried.value = answer.ok ? answer.body : null;
  };
  return (
    <>
      <button type="button" disabled={isTrying.value} onClick={tryIt}>
        Try on last week
      </button>
      <RuleProblem problem={problem.value} />
      {tried.value !== null && <Tried tried={tried.value} />}
    </>
  );
}

function Tried({ tried }: { readonly tried: RuleTried }) {
  const { count, pages, machines, openings, remarks } = tried;
  return (
    <div class="rule-tried" role="status">
      <p>
        Would have opened <strong>{count === 1 ? 'once' : `${count} times`}</strong> on {machines}{' '}
        {machines === 1 ? 'machine' : 'machines'}, and told people at once {pages === 1 ? 'one time' : `${pages} times`}
        .
      </p>
      {openings.length > 0 && (
        <ul>
          {openings.slice(0, mostShown).map(({ machineId, startedAt, text }) => (
            <li key={`${machineId} ${startedAt}`}>
              {formatInstantShort(Date.parse(startedAt), 'UTC', nowMs.value)} UTC · {text}
            </li>
          ))}
          {count > mostShown && <li class="quiet">and {count - mostShown} more</li>}
        </ul>
      )}
      {remarks.map((remark) => (
        <p key={remark} class="quiet">
          {remark}
        </p>
      ))}
    </div>
  );
}
