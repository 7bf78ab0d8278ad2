import { useEffect } from 'preact/hooks';
import { isSignInNeeded } from '../api/sign-in-state.js';
import { theme } from '../routing/choices.js';
import { path } from '../routing/location.js';
import { SignInPage } from '../sign-in/sign-in-page.js';
import { Foot } from './foot.js';
import { Masthead } from './masthead.js';
import { pageOf } from './page-of.js';

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
        {isSignInNeeded.value ? <SignInPage /> : pageOf(path.value)}
      </main>
      <Foot />
    </>
  );
}
