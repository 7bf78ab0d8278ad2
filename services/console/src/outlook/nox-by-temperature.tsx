import type { MachineDetail } from '@warmbrick/contracts';
import { formatNumber, viewUnit } from '../format/unit-system.js';
import { units } from '../routing/choices.js';

/** Conversion in each bin of exhaust temperature, of late and by the machine's own past; the table is the chart. */
export function NoxByTemperature({ detail }: { readonly detail: MachineDetail }) {
  const bins = detail.noxBins.filter(({ conversionRatio }) => conversionRatio !== null);
  const unit = viewUnit('degC', units.value);
  return (
    <section class="nox" aria-labelledby="nox-title">
      <h2 id="nox-title">
        NOx converted <span class="head-note">by exhaust temperature, {unit.label}</span>
      </h2>
      {bins.length === 0 ? (
        <p class="nothing">Both NOx sensors and a warm catalyst are needed for this: not seen together yet.</p>
      ) : (
        <>
          <table class="figures nox-figures">
            <thead>
              <tr>
                <th scope="col">{unit.label}</th>
                <th scope="col" class="wide">
                  Converted
                </th>
                <th scope="col">Of late</th>
                <th scope="col">Own past</th>
              </tr>
            </thead>
            <tbody>
              {bins.map(({ lowC, highC, conversionRatio, baselineRatio }) => (
                <tr key={lowC}>
                  <th scope="row">
                    {formatNumber(unit.convert(lowC))} to {formatNumber(unit.convert(highC))}
                  </th>
                  <td class="wide">
                    <ConversionBar ratio={conversionRatio ?? 0} pastRatio={baselineRatio} />
                  </td>
                  <td>{percent(conversionRatio)}</td>
                  <td>{percent(baselineRatio)}</td>
                </tr>
              ))}
            </tbody>
          </table>
          <p class="quiet">
            A catalyst that wears loses its cold end first. A post stands at the machine’s own past; what falls short of
            it is a finding only when it lasts.
          </p>
        </>
      )}
    </section>
  );
}

function percent(ratio: number | null): string {
  return ratio === null ? 'learning' : `${Math.round(100 * ratio)} %`;
}

function ConversionBar({ ratio, pastRatio }: { readonly ratio: number; readonly pastRatio: number | null }) {
  const reach = Math.max(0, Math.min(1, ratio)) * 100;
  return (
    <svg class="conversion-bar" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
      <path class="bed" d="M0 11.5H100" />
      <path class="conversion-now" d={`M0 2H${reach.toFixed(1)}V11H0Z`} />
      {pastRatio !== null && <path class="conversion-past" d={`M${(100 * Math.min(1, pastRatio)).toFixed(1)} 0V12`} />}
    </svg>
  );
}
