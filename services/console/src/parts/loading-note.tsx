/** Bricks being laid while something loads. */
export function LoadingNote({ what }: { readonly what: string }) {
  return (
    <p class="loading" role="status">
      <span class="loading-bricks" aria-hidden="true">
        <i />
        <i />
        <i />
      </span>
      Loading {what}
    </p>
  );
}
