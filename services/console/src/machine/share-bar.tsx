import type { ResidencyShare } from '../course/residency-shares.js';

interface ShareBarProps {
  readonly shares: readonly ResidencyShare[];
  readonly label: string;
}

/** Shares end to end, each in the build of its bricks. */
export function ShareBar({ shares, label }: ShareBarProps) {
  const shown = shares.filter((share) => share.shareRatio > 0);
  return (
    <div class="share-bar" role="img" aria-label={label}>
      {shown.map((share) => (
        <span key={share.kind} class={`share share-${share.kind}`} style={{ flexGrow: share.shareRatio }}>
          {share.shareRatio >= 0.08 && <b>{Math.round(share.shareRatio * 100)} %</b>}
        </span>
      ))}
    </div>
  );
}
