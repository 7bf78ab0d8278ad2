import type { InquiryDocument } from '@warmbrick/contracts';

/** What to look at first, which sensors may be lying, and what else to know. */
export function ToDo({ inquiry }: { readonly inquiry: InquiryDocument }) {
  const { checkFirst, suspectSensors, notes } = inquiry;
  return (
    <section aria-labelledby="check-title">
      <h2 id="check-title">What to check first</h2>
      <ol class="numbered">
        {checkFirst.map((text) => (
          <li key={text}>{text}</li>
        ))}
      </ol>
      {suspectSensors.length > 0 && (
        <>
          <h3>Sensors that may be lying</h3>
          <ul class="bricked">
            {suspectSensors.map(({ channel, why }) => (
              <li key={channel}>
                {channelWords(channel)}: {why}
              </li>
            ))}
          </ul>
        </>
      )}
      {notes.length > 0 && (
        <>
          <h3>Worth knowing</h3>
          <ul class="bricked">
            {notes.map(({ text }) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}

/** A channel's name as words: `defLevelPct` gives "DEF level". */
function channelWords(name: string): string {
  return name
    .replace(/(Pct|C|Ppm|KPa|Rpm|GPerH|KgPerH|LPerH|V)$/, '')
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .replace(/\b(def|scr|dpf|doc)\b/g, (short) => short.toUpperCase())
    .replace(/\bnox\b/g, 'NOx');
}
