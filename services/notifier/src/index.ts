export { type NotifierSettings, notifierSettingsShape } from './notifier-settings.js';
export { type Notifier, type NotifierOptions, startNotifier } from './start-notifier.js';
