/** Colours and faces for the plot, which draws on a canvas and cannot read style sheets by itself. */

export interface PlotTheme {
  readonly ink: string;
  readonly quiet: string;
  readonly grid: string;
  readonly line: string;
  readonly spread: string;
  readonly windowFill: string;
  readonly windowEdge: string;
  readonly finding: string;
  readonly font: string;
}

/** The colours in force at an element, whichever light is on. */
export function readPlotTheme(host: HTMLElement): PlotTheme {
  const probe = document.createElement('span');
  host.append(probe);
  const colour = (name: string) => {
    probe.style.color = `var(${name})`;
    return getComputedStyle(probe).color;
  };
  const theme = {
    ink: colour('--ink'),
    quiet: colour('--ink-quiet'),
    grid: colour('--joint'),
    line: colour('--plot-line'),
    spread: colour('--plot-spread'),
    windowFill: colour('--window-fill'),
    windowEdge: colour('--brick-in'),
    finding: colour('--plot-finding'),
    font: `12px ${getComputedStyle(host).fontFamily}`,
  };
  probe.remove();
  return theme;
}
