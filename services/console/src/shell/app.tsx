import { useEffect } from 'preact/hooks';
import { FleetPage } from '../fleet/fleet-page.js';
import { MachinePage } from '../machine/machine-page.js';
import { AboutPage } from '../pages/about-page.js';
import { UnknownPage } from '../pages/unknown-page.js';
import { theme } from '../routing/choices.js';
import { path } from '../routing/location.js';
import { Foot } from './foot.js';
import { Masthead } from './masthead.js';

/** The whole page: masthead, the page that the path names, foot. */
export function App() {
  const chosenTheme = theme.value;
  useEffect(() => {
    document.documentElement.dataset.theme = chosenTheme;
  }, [chosenTheme]);
  return (
    <>
      <a class="skip" href="#content">
        Skip to the content
      </a>
      <Masthead />
      <main id="content" tabIndex={-1}>
        {pageOf(path.value)}
      </main>
      <Foot />
    </>
  );
}

function pageOf(pathname: string) {
  if (pathname === '/') return <FleetPage />;
  if (pathname === '/about') return <AboutPage />;
  const machine = /^\/machines\/([^/]+)\/?$/.exec(pathname)?.[1];
  const machineId = machine === undefined ? null : decoded(machine);
  return machineId === null ? <UnknownPage /> : <MachinePage key={machineId} machineId={machineId} />;
}

function decoded(text: string): string | null {
  try {
    return decodeURIComponent(text);
  } catch {
    return null;
  }
}
