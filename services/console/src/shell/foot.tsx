import { CautionNote } from '../parts/caution-note.js';
import { Link } from '../routing/link.js';

/** Cautions that hold on every page. */
export function Foot() {
  return (
    <footer class="foot">
      <CautionNote />
      <p>
        A dealer's or licensed technician's diagnosis stands over what is shown here.{' '}
        <Link to="/about">What the numbers mean</Link>
      </p>
    </footer>
  );
}
