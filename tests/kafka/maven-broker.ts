/** Kafka brokers from the jars of Maven Central, run by Java: one node or three, started, killed, frozen by the test. */

import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import {
  closeSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { connect, createServer } from 'node:net';
import { homedir, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

const run = promisify(execFile);
const recipeFolder = fileURLToPath(new URL('./broker', import.meta.url));
/** Named for the recipe: another set of jars gets another folder. */
const cacheFolder = join(homedir(), '.cache', 'warmbrick-kafka', '4.4.0-tools');
const copyGoal = 'org.apache.maven.plugins:maven-dependency-plugin:3.8.1:copy-dependencies';
const fetchWithinMs = 300_000;
const startWithinMs = 90_000;
/** Small, and quick to start rather than quick in the long run. */
const javaOptions = ['-Xms128m', '-Xmx512m', '-XX:+UseSerialGC', '-XX:TieredStopAtLevel=1', '-Xshare:auto'];

export interface BrokerNode {
  readonly nodeId: number;
  readonly address: string;
  start(): Promise<void>;
  /** Ends at once, as if the power had gone. */
  kill(): Promise<void>;
  /** Ends in good order. */
  stop(): Promise<void>;
  /** Freezes, so that it neither answers nor goes away. */
  pause(): void;
  resume(): void;
}

export interface BrokerCluster {
  readonly brokers: readonly string[];
  readonly nodes: readonly BrokerNode[];
  stop(): Promise<void>;
}

/** The folder with the jars, fetched once; a text says why there is none. */
export async function findJars(): Promise<{ folder: string } | { problem: string }> {
  const given = process.env.WARMBRICK_KAFKA_JARS;
  if (given !== undefined) {
    return holdsBroker(given) ? { folder: given } : { problem: `WARMBRICK_KAFKA_JARS: no kafka_2.13 jar in ${given}` };
  }
  try {
    await run('java', ['-version']);
  } catch {
    return { problem: 'no java' };
  }
  if (holdsBroker(cacheFolder)) return { folder: cacheFolder };
  const partial = `${cacheFolder}.${process.pid}`;
  try {
    mkdirSync(partial, { recursive: true });
    const pom = join(recipeFolder, 'pom.xml');
    const goal = [copyGoal, '-DincludeScope=runtime', `-DoutputDirectory=${partial}`];
    await run('mvn', ['-q', '-B', '-f', pom, ...goal], { timeout: fetchWithinMs });
    // Another test file may have been quicker.
    if (!holdsBroker(cacheFolder)) renameSync(partial, cacheFolder);
    return { folder: cacheFolder };
  } catch (error) {
    const said = String((error as { stdout?: string }).stdout ?? error)
      .trim()
      .split('\n')[0];
    return { problem: `the broker's jars could not be fetched: ${said?.slice(0, 200)}` };
  } finally {
    rmSync(partial, { recursive: true, force: true });
  }
}

/** Starts a cluster; call `stop`. Should this process die, its brokers die with it. */
export async function startMavenBrokers(jars: string, nodeCount: 1 | 3): Promise<BrokerCluster> {
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-kafka-'));
  const sweeper = startSweeper(folder);
  const ports = await freePorts(nodeCount * 2);
  const clusterId = randomBytes(16).toString('base64url');
  const voters = range(nodeCount).map((i) => `${i + 1}@127.0.0.1:${ports[nodeCount + i]}`);
  const nodes = range(nodeCount).map((i) => {
    const home = join(folder, `node-${i + 1}`);
    mkdirSync(home);
    const values = {
      nodeId: i + 1,
      voters: voters.join(','),
      clientPort: ports[i],
      controllerPort: ports[nodeCount + i],
      dataFolder: join(home, 'data'),
      replication: nodeCount,
      inSync: nodeCount === 1 ? 1 : 2,
    };
    writeFileSync(join(home, 'broker.properties'), fillIn('broker.properties', values));
    return new JavaNode({ nodeId: i + 1, home, jars, clientPort: ports[i] as number });
  });
  const stop = async () => {
    await Promise.all(nodes.map((node) => node.kill()));
    rmSync(folder, { recursive: true, force: true });
    sweeper.stdin?.end();
  };
  try {
    await Promise.all(nodes.map((node) => node.format(clusterId)));
    await Promise.all(nodes.map((node) => node.start()));
  } catch (error) {
    await stop();
    throw error;
  }
  return { brokers: nodes.map(({ address }) => address), nodes, stop };
}

/** Runs a main class of the jars to its end and gives what it printed. */
export async function runJava(jars: string, mainClass: string, args: readonly string[]): Promise<string> {
  const { stdout } = await run('java', [
    '-Xmx128m',
    ...javaOptions.slice(2),
    ...logging(),
    '-cp',
    `${jars}/*`,
    mainClass,
    ...args,
  ]);
  return stdout;
}

/** Removes the folder when this process ends without having stopped its brokers; they need a moment to end themselves. */
function startSweeper(folder: string): ChildProcess {
  const script = 'cat >/dev/null; [ -d "$1" ] || exit; sleep 2; rm -rf "$1"';
  const sweeper = spawn('sh', ['-c', script, 'sh', folder], { stdio: ['pipe', 'ignore', 'ignore'], detached: true });
  sweeper.unref();
  return sweeper;
}

class JavaNode implements BrokerNode {
  readonly nodeId: number;
  readonly address: string;
  readonly #home: string;
  readonly #jars: string;
  readonly #port: number;
  #keeper: ChildProcess | null = null;
  #pid = 0;

  constructor(options: { nodeId: number; home: string; jars: string; clientPort: number }) {
    this.nodeId = options.nodeId;
    this.address = `127.0.0.1:${options.clientPort}`;
    this.#home = options.home;
    this.#jars = options.jars;
    this.#port = options.clientPort;
  }

  async format(clusterId: string): Promise<void> {
    await runJava(this.#jars, 'kafka.tools.StorageTool', [
      'format',
      `--cluster-id=${clusterId}`,
      '-c',
      this.#properties(),
    ]);
  }

  async start(): Promise<void> {
    const log = openSync(join(this.#home, 'broker.log'), 'a');
    // The shell waits for the end of its input, which comes when this process ends in whatever way, and ends the broker.
    const script = '"$@" </dev/null >&2 & echo $!; cat >/dev/null; kill -9 $!; wait $!';
    const command = ['java', ...javaOptions, ...logging(), `-Dkafka.logs.dir=${this.#home}`, '-cp', `${this.#jars}/*`];
    const keeper = spawn('sh', ['-c', script, 'sh', ...command, 'kafka.Kafka', this.#properties()], {
      stdio: ['pipe', 'pipe', log],
    });
    closeSync(log);
    this.#keeper = keeper;
    this.#pid = Number(await new Promise((resolve) => keeper.stdout?.once('data', resolve)));
    const untilMs = Date.now() + startWithinMs;
    while (!(await answers(this.#port))) {
      if (Date.now() > untilMs || !isAlive(this.#pid)) {
        throw new Error(
          `Kafka node ${this.nodeId} did not start:\n${readFileSync(join(this.#home, 'broker.log'), 'utf8').slice(-2000)}`,
        );
      }
      await sleep(100);
    }
  }

  async kill(): Promise<void> {
    const keeper = this.#keeper;
    this.#keeper = null;
    if (keeper === null) return;
    const ended = new Promise((resolve) => keeper.once('exit', resolve));
    keeper.stdin?.end();
    await ended;
  }

  async stop(): Promise<void> {
    process.kill(this.#pid, 'SIGTERM');
    for (let i = 0; i < 300 && isAlive(this.#pid); i++) await sleep(100);
    await this.kill();
  }

  pause(): void {
    process.kill(this.#pid, 'SIGSTOP');
  }

  resume(): void {
    process.kill(this.#pid, 'SIGCONT');
  }

  #properties(): string {
    return join(this.#home, 'broker.properties');
  }
}

function holdsBroker(folder: string): boolean {
  return existsSync(folder) && readdirSync(folder).some((name) => name.startsWith('kafka_2.13-'));
}

function logging(): string[] {
  return [`-Dlog4j2.configurationFile=${join(recipeFolder, 'log4j2.properties')}`];
}

function fillIn(template: string, values: Readonly<Record<string, unknown>>): string {
  const text = readFileSync(join(recipeFolder, template), 'utf8');
  return text.replace(/\$\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

function range(count: number): number[] {
  return Array.from({ length: count }, (_, i) => i);
}

/** Ports that nobody listens on; taken together, so that they differ. */
export async function freePorts(count: number): Promise<number[]> {
  const servers = await Promise.all(
    range(count).map(
      () =>
        new Promise<ReturnType<typeof createServer>>((resolve) => {
          const server = createServer().listen(0, '127.0.0.1', () => resolve(server));
        }),
    ),
  );
  const ports = servers.map((server) => (server.address() as { port: number }).port);
  await Promise.all(servers.map((server) => new Promise((resolve) => server.close(resolve))));
  return ports;
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1');
    const end = (isUp: boolean) => {
      socket.destroy();
      resolve(isUp);
    };
    socket.once('connect', () => end(true));
    socket.once('error', () => end(false));
  });
}

/** A process that ended but was not waited for yet is not alive. */
function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    const stat = readFileSync(`/proc/${pid}/stat`, 'utf8');
    return stat.slice(stat.lastIndexOf(')') + 2, stat.lastIndexOf(')') + 3) !== 'Z';
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'ENOENT' && process.platform !== 'linux';
  }
}
