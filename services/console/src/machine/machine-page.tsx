import type { MachineDetail } from '@warmbrick/contracts';
import { useEffect, useMemo } from 'preact/hooks';
import { MachineAlerts } from '../alerts/machine-alerts.js';
import { CourseKey } from '../course/course-key.js';
import { DayCourse } from '../course/day-course.js';
import { zoneLabel, zoneOf } from '../format/instant.js';
import { suspectWords } from '../format/outlook-words.js';
import { BesideItsClass } from '../outlook/beside-its-class.js';
import { DefTank } from '../outlook/def-tank.js';
import { NoxByTemperature } from '../outlook/nox-by-temperature.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { RecordView } from '../record/record-view.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { newestSampleMs } from '../shell/live-mark.js';
import { AdviceNote } from './advice-note.js';
import { BuiltUp } from './built-up.js';
import { FindingList } from './finding-list.js';
import { HistogramFigure } from './histogram-figure.js';
import { createMachineStore, type MachineStore } from './machine-store.js';
import { MachineTitle } from './machine-title.js';
import { PeriodTable } from './period-table.js';
import { ResidencyFigure } from './residency-figure.js';
import { RiskParts } from './risk-parts.js';

/** Everything about one machine. */
export function MachinePage({ machineId }: { readonly machineId: string }) {
  const store = useMemo(() => createMachineStore(machineId), [machineId]);
  useEffect(() => {
    void store.loadDetail();
    return () => store.stop();
  }, [store]);
  useEffect(
    () =>
      store.heard.subscribe((heard) => {
        newestSampleMs.value = heard === null ? null : Date.parse(heard.lastSampleAt);
      }),
    [store],
  );
  useEffect(
    () => () => {
      newestSampleMs.value = null;
    },
    [],
  );
  const detail = store.detail.value;
  const problem = store.problem.value;
  return (
    <article class="machine">
      <p class="crumb">
        <Link to="/">Back to the fleet</Link>
        <Link to={`/machines/${encodeURIComponent(machineId)}/shifts`}>Shifts</Link>
        <Link to={`/machines/${encodeURIComponent(machineId)}/service`}>Service</Link>
        <Link to={`/machines/${encodeURIComponent(machineId)}/derates`}>Faults and derates</Link>
        <Link to={`/machines/${encodeURIComponent(machineId)}/bench`}>Thresholds on trial</Link>
      </p>
      {detail === null && <PageTitle text={problem === null ? `Machine ${machineId}` : 'Machine not shown'} />}
      {problem !== null && <ProblemNote problem={problem} retry={() => store.loadDetail()} />}
      {detail === null && problem === null && <LoadingNote what="the machine" />}
      {detail !== null && <MachineBody detail={detail} store={store} />}
    </article>
  );
}

function MachineBody({ detail, store }: { readonly detail: MachineDetail; readonly store: MachineStore }) {
  const timeZone = zoneOf(zoneChoice.value, detail.timeZone);
  const suspects = suspectWords(detail.suspectChannels);
  return (
    <>
      <MachineTitle detail={detail} heard={store.heard} />
      {suspects !== null && <p class="suspects">{suspects}</p>}
      <div class="pair pair-risk">
        <RiskParts score={detail.score} />
        <div class="stack">
          <MachineAlerts detail={detail} />
          <AdviceNote score={detail.score} />
          <BuiltUp load={detail.load} />
        </div>
      </div>
      <section class="day" aria-labelledby="day-title">
        <h2 id="day-title">
          Its last 24 hours <span class="head-note">clock: {zoneLabel(timeZone, Date.parse(detail.lastSampleAt))}</span>
        </h2>
        <DayCourse day={detail.day} residency={detail.residency} timeZone={timeZone} />
        <CourseKey />
      </section>
      <RecordView detail={detail} />
      <div class="pair">
        <ResidencyFigure detail={detail} />
        <HistogramFigure detail={detail} />
      </div>
      <div class="pair">
        <DefTank detail={detail} />
        <NoxByTemperature detail={detail} />
      </div>
      <BesideItsClass detail={detail} />
      <PeriodTable detail={detail} />
      <FindingList store={store.findings} timeZone={timeZone} />
    </>
  );
}
