import type { ComponentChild } from 'preact';
import { AlertsPage } from '../alerts/alerts-page.js';
import { BenchPage } from '../bench/bench-page.js';
import { DeratePage } from '../derate/derate-page.js';
import { DestinationsPage } from '../destinations/destinations-page.js';
import { FleetPage } from '../fleet/fleet-page.js';
import { MachinePage } from '../machine/machine-page.js';
import { AboutPage } from '../pages/about-page.js';
import { UnknownPage } from '../pages/unknown-page.js';
import { ServicePage } from '../service/service-page.js';
import { StockPage } from '../service/stock-page.js';
import { SettingsPage } from '../settings/settings-page.js';
import { ShiftPage } from '../shifts/shift-page.js';

/** Pages by their path. */
const pages: Readonly<Record<string, () => ComponentChild>> = {
  '/': () => <FleetPage />,
  '/about': () => <AboutPage />,
  '/alerts': () => <AlertsPage />,
  '/def-stock': () => <StockPage />,
  '/destinations': () => <DestinationsPage />,
  '/settings': () => <SettingsPage />,
};

/** Pages about one machine, by what follows its id in the path. */
const machinePages: Readonly<Record<string, (machineId: string) => ComponentChild>> = {
  '': (id) => <MachinePage key={id} machineId={id} />,
  bench: (id) => <BenchPage key={id} machineId={id} />,
  derates: (id) => <DeratePage key={id} machineId={id} />,
  service: (id) => <ServicePage key={id} machineId={id} />,
  shifts: (id) => <ShiftPage key={id} machineId={id} />,
};

/** The page that a path names. */
export function pageOf(pathname: string): ComponentChild {
  const page = Object.hasOwn(pages, pathname) ? pages[pathname] : undefined;
  if (page !== undefined) return page();
  const [, id, sub = ''] = /^\/machines\/([^/]+)\/?([a-z-]*)\/?$/.exec(pathname) ?? [];
  const machineId = id === undefined ? null : decoded(id);
  const machinePage = Object.hasOwn(machinePages, sub) ? machinePages[sub] : undefined;
  return machineId === null || machinePage === undefined ? <UnknownPage /> : machinePage(machineId);
}

function decoded(text: string): string | null {
  try {
    return decodeURIComponent(text);
  } catch {
    return null;
  }
}
