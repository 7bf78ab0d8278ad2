import type { Problem } from '@warmbrick/contracts';

/** What is wrong with a rule, all of it. */
export function RuleProblem({ problem }: { readonly problem: Problem | null }) {
  if (problem === null) return null;
  return (
    <div class="problem rule-tried" role="alert">
      <p>{problem.title}</p>
      <ul>
        {(problem.errors ?? [{ path: '', message: problem.detail ?? '' }]).map(({ path, message }) => (
          <li key={`${path} ${message}`}>
            {path} {message}
          </li>
        ))}
      </ul>
    </div>
  );
}
