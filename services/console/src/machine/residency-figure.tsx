import type { MachineDetail } from '@warmbrick/contracts';
import { type ResidencyShare, residencyShares } from '../course/residency-shares.js';
import { formatHours } from '../format/duration.js';
import { formatQuantity } from '../format/unit-system.js';
import { units } from '../routing/choices.js';
import { ShareBar } from './share-bar.js';

/** Where the running time of the last 24 hours was spent, as a figure and a table. */
export function ResidencyFigure({ detail }: { readonly detail: MachineDetail }) {
  const { residency } = detail;
  const shares = residencyShares(residency);
  return (
    <section class="residency" aria-labelledby="residency-title">
      <h2 id="residency-title">
        Running time by catalyst temperature <span class="head-note">last 24 hours</span>
      </h2>
      <ShareBar shares={shares} label="Running time by catalyst temperature; the table below holds the same" />
      <table class="figures">
        <thead>
          <tr>
            <th scope="col">Temperature</th>
            <th scope="col">Time</th>
            <th scope="col">Of running</th>
          </tr>
        </thead>
        <tbody>
          {shares.map((share) => (
            <tr key={share.kind}>
              <th scope="row">
                <span class={`share-key share-${share.kind}`} aria-hidden="true" />
                {share.name} <span class="quiet">{boundWords(share.kind, detail)}</span>
              </th>
              <td>{formatHours(share.lengthS)}</td>
              <td>{residency.runningS > 0 ? `${Math.round(share.shareRatio * 100)} %` : ''}</td>
            </tr>
          ))}
          <tr class="total">
            <th scope="row">Running in all</th>
            <td>{formatHours(residency.runningS)}</td>
            <td />
          </tr>
          <tr>
            <th scope="row">Engine off</th>
            <td>{formatHours(residency.offS)}</td>
            <td />
          </tr>
          <tr>
            <th scope="row">Not observed</th>
            <td>{formatHours(residency.unobservedS)}</td>
            <td />
          </tr>
        </tbody>
      </table>
      <p class="quiet">
        Highest exhaust temperature {formatQuantity(residency.maxExhaustTempC, 'degC', units.value)}; fuel{' '}
        {formatQuantity(residency.fuelL, 'L', units.value)}; longest idle on record {formatHours(detail.longestIdleS)}.
      </p>
    </section>
  );
}

function boundWords(kind: ResidencyShare['kind'], detail: MachineDetail): string {
  const temp = (tempC: number) => formatQuantity(tempC, 'degC', units.value);
  const { lowC, highC } = detail.window;
  if (kind === 'cold') return `under ${temp(detail.profile.dosingReleaseTempC)}`;
  if (kind === 'below') return `to ${temp(lowC)}`;
  if (kind === 'in') return `${temp(lowC)} to ${temp(highC)}`;
  return kind === 'above' ? `over ${temp(highC)}` : '';
}
