/** Starts the pages in the browser. */

import { render } from 'preact';
import { startStream } from './api/live-stream.js';
import { startClock } from './api/server-clock.js';
import { watchLight } from './record/light-changes.js';
import { loadFleets } from './routing/fleet-choice.js';
import { startRouting } from './routing/location.js';
import { App } from './shell/app.js';
import 'uplot/dist/uPlot.min.css';
import './style/tokens.css';
import './style/base.css';
import './style/shell.css';
import './style/alerts.css';
import './style/bench.css';
import './style/course.css';
import './style/derate.css';
import './style/fleet.css';
import './style/machine.css';
import './style/outlook.css';
import './style/record.css';
import './style/service.css';
import './style/settings.css';
import './style/print.css';

startClock();
startRouting();
startStream();
void loadFleets();
watchLight();

const root = document.getElementById('root');
if (root !== null) render(<App />, root);
