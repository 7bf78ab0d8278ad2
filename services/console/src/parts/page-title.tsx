import { useEffect } from 'preact/hooks';

/** The heading of a page, which also names the browser tab and takes the focus after a change of page. */
export function PageTitle({ text, hidden }: { readonly text: string; readonly hidden?: boolean }) {
  useEffect(() => {
    document.title = `${text} · Warmbrick`;
  }, [text]);
  return (
    <h1 tabIndex={-1} class={hidden === true ? 'unseen' : undefined}>
      {text}
    </h1>
  );
}
