import { PageTitle } from '../parts/page-title.js';
import { Link } from '../routing/link.js';
import { path } from '../routing/location.js';

/** A path that names no page. */
export function UnknownPage() {
  return (
    <section class="prose">
      <PageTitle text="There is no page here" />
      <p>
        Nothing is laid at <code>{path.value}</code>. The address may be mistyped, or from an older link.
      </p>
      <p>
        <Link to="/">Go to the fleet</Link>
      </p>
    </section>
  );
}
