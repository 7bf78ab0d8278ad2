import { WaitingCount } from '../alerts/waiting-count.js';
import { Link } from '../routing/link.js';
import { LiveMark } from './live-mark.js';
import { ViewChoices } from './view-choices.js';

/** Name, the way to every page, whether the page is live, and the choices that hold everywhere. */
export function Masthead() {
  return (
    <header class="masthead">
      <div class="masthead-row">
        <Link to="/" class="wordmark">
          <BrickMark />
          Warmbrick
        </Link>
        <nav aria-label="Pages">
          <Link to="/">Fleet</Link>
          <Link to="/alerts">
            Alerts
            <WaitingCount />
          </Link>
          <Link to="/settings">Settings</Link>
          <Link to="/about">What the numbers mean</Link>
        </nav>
        <LiveMark />
        <ViewChoices />
      </div>
      <div class="bond" aria-hidden="true" />
    </header>
  );
}

function BrickMark() {
  return (
    <svg class="brick-mark" viewBox="0 0 22 17" aria-hidden="true">
      <path class="brick-cold" d="M0 0h12v5h-12z" />
      <path class="brick-in" d="M13 0h9v5h-9zM0 6h7v5h-7zM8 6h14v5h-14zM0 12h12v5h-12z" />
      <path class="brick-above" d="M13 12h9v5h-9z" />
    </svg>
  );
}
