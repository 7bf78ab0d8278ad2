/** Every code that an OperatingError may carry: what it means, how HTTP answers it, what to do. */

export interface CataloguedError {
  readonly title: string;
  /** Status when it reaches an HTTP client. Source: RFC 9110, 15.5 and 15.6. */
  readonly httpStatus: number;
  readonly remedy: string;
}

const catalogue = {
  'bad-config': entry('The settings are wrong', 500, 'Correct the settings that the message lists.'),
  'machine-busy': entry('The machine is being written to', 503, 'Try again when it is quieter.'),
  'no-data-folder': entry('There is no such data folder', 404, 'Name the folder of a database that was made before.'),
  'whole-installation': entry('This concerns the whole installation', 403, 'Use a key that is for all fleets.'),
  'machine-absent': entry('There is no such machine', 404, 'Name a machine that there is.'),
  'service-unreachable': entry('The service does not answer', 503, 'Start it, or correct its address.'),
  'telemetry-refused': entry('The service does not take the samples', 502, 'Check the address and what it answers.'),
  'identity-provider-unreachable': entry('The identity provider does not answer', 503, 'Try again; check its address.'),
  'no-keys': entry('Nobody holds a key', 500, 'Start on this computer only, or have a key printed.'),
  'bad-profile': entry('The machine profile is wrong', 422, 'Correct the fields that the message names.'),
  'bad-rule': entry('The rule is not valid', 422, 'Correct the rule; warmbrick rules explain shows one that is.'),
  'bad-threshold-set': entry('The threshold set is wrong', 422, 'Correct the thresholds that the message names.'),
  'bad-truth': entry('What findings are judged by is wrong', 422, 'Correct the line that the message names.'),
  'bad-search': entry('What is to be searched is wrong', 422, 'Correct the option that the message names.'),
  'bad-journal': entry('The journal is of another search', 422, 'Name another file, or the inputs of before.'),
  'service-refused': entry('The service does not do this', 422, 'Correct what it says.'),
  'bad-cursor': entry('The page cursor is not one of ours', 400, 'Start from the first page without a cursor.'),
  'range-too-long': entry('The range holds too many samples', 400, 'Ask for a shorter range.'),

  'store-unavailable': entry(
    'The database does not answer',
    503,
    'Tried again by itself; check the database if it lasts.',
  ),
  'store-refused': entry('The database refuses us', 500, 'Check user, password and database in DATABASE_URL.'),
  'store-too-new': entry('The database is newer than the program', 500, 'Update the program.'),
  'store-step-changed': entry('The database was made by other code', 500, 'Use the release that made the database.'),
  'damaged-chunk': entry(
    'Archived samples are damaged',
    500,
    'Restore a backup, or read this time from its source again.',
  ),
  'chunk-too-new': entry('Archived samples are newer than the program', 500, 'Update the program.'),
  fenced: entry(
    'Another writer has taken over',
    409,
    'Drop the state of the partition; claim it only if it is assigned.',
  ),
  'cursor-moved-back': entry('The offset is before the committed one', 409, 'Claim again and go on from its offset.'),

  'data-folder-in-use': entry('The data folder is in use', 409, 'Stop the other program or name another folder.'),
  'data-folder-not-writable': entry('The data folder cannot be used', 500, 'Name a folder that you can write to.'),
  'no-server-programs': entry('No database comes along for this platform', 500, 'Name a server in DATABASE_URL.'),
  'no-server-user': entry(
    'Root has no user to run the database as',
    500,
    'Add a user "warmbrick", or start as another.',
  ),
  'initdb-failed': entry('The database could not be made', 500, 'Check the free space and the user database.'),
  'server-start-failed': entry('The database did not start', 503, 'Read its log, postgres.log in the data folder.'),
  'server-keeps-ending': entry('The database keeps ending', 503, 'Read its log; check the free space and memory.'),
  'orphan-server': entry('A database of an earlier run does not stop', 500, 'End its process by hand and start again.'),
  'socket-folder-taken': entry('The socket folder belongs to somebody else', 500, 'Remove it or set TMPDIR.'),

  'recording-absent': entry('There is no such recording', 422, 'Check the path.'),
  'recording-unreadable': entry('The recording cannot be opened', 422, 'Check that you may read it.'),
  'recording-is-folder': entry('A folder was named, not a recording', 422, 'Name the files in the folder.'),
  'recording-empty': entry('The recording is empty', 422, 'Check how it was written.'),
  'recording-damaged': entry('The recording is cut short or damaged', 422, 'Copy it again from where it came.'),
  'recording-unknown-format': entry('The recording is of no known format', 422, 'See the list of formats.'),
  'recording-no-time': entry('The recording has no column of times', 422, 'Name the column that holds the times.'),
  'recording-no-channel': entry('The recording has no known channel', 422, 'Name the columns as the catalogue does.'),
  'recording-no-frame': entry('The recording has no usable CAN frame', 422, 'Check how it was logged.'),
  'recording-no-usable-row': entry('No row of the recording can be used', 422, 'See the rejects for the reasons.'),
  'temporary-database-failed': entry('The temporary database for sorting failed', 500, 'Free space, or set TMPDIR.'),
  'output-unwritable': entry('The output cannot be written', 422, 'Check the folder and the free space.'),

  'batch-too-large': entry('The batch is too large', 413, 'Hand it over in smaller pieces.'),
  'ingest-closed': entry('The pipeline is closing', 503, 'Send it again once the service is back.'),

  'kafka-unavailable': entry('No Kafka broker answers', 503, 'Check the broker addresses, and whether they run.'),
  'kafka-refused': entry('The Kafka brokers do not take the messages', 500, 'Check topic, rights and message size.'),
  'kafka-log-too-short': entry('A topic ends before the stored position', 500, 'See whether it was made anew.'),
  'kafka-consumer-ended': entry('Reading from Kafka has ended', 500, 'Start the program again and see its log.'),

  'bad-case': entry('A replay case cannot be used', 422, 'Correct the case file or remove the folder.'),
  'case-too-large': entry('A replay case is too large', 422, 'Cut it into several cases.'),
  'port-in-use': entry('The port is in use', 500, 'Stop the other program or choose another port.'),
  'port-not-allowed': entry('The port is not ours to use', 500, 'Choose a port above 1023.'),
} as const satisfies Record<string, CataloguedError>;

export type ErrorCode = keyof typeof catalogue;

/** The catalogue; codes are never reused for something else. */
export const errorCatalogue: Readonly<Record<ErrorCode, CataloguedError>> = catalogue;

function entry(title: string, httpStatus: number, remedy: string): CataloguedError {
  return { title, httpStatus, remedy };
}
