import type { Problem } from '@warmbrick/contracts';

interface ProblemNoteProps {
  readonly problem: Problem;
  readonly retry: () => void;
}

/** What went wrong, in the server's words, and a way to try again. */
export function ProblemNote({ problem, retry }: ProblemNoteProps) {
  return (
    <div class="problem" role="alert">
      <h2>{problem.title}</h2>
      {problem.detail !== undefined && <p>{problem.detail}</p>}
      {problem.errors !== undefined && (
        <ul>
          {problem.errors.map((error) => (
            <li key={error.path}>
              {error.path}: {error.message}
            </li>
          ))}
        </ul>
      )}
      <p class="quiet">
        {problem.status > 0 && `Status ${problem.status}, `}code {problem.code}
      </p>
      <button type="button" onClick={retry}>
        Try again
      </button>
    </div>
  );
}
