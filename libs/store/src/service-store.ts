/** Service records, batches of DEF and inspections. */

export interface StoredServiceRecord {
  readonly id: string;
  readonly machineId: string;
  readonly item: string;
  readonly atMs: number;
  readonly engineHours: number | null;
  readonly note: string;
  /** Who wrote it down, and when. */
  readonly recordedBy: string;
  readonly recordedMs: number;
}

export interface DefBatch {
  readonly id: string;
  readonly fleetId: string;
  readonly name: string;
  readonly site: string | null;
  readonly purchasedMs: number;
  readonly storageTempC: number;
  readonly quantityL: number;
  /** What is thought to be left, as last written down. */
  readonly leftL: number;
  readonly note: string;
  readonly recordedBy: string;
  readonly recordedMs: number;
}

/** One version of what somebody saw on a shift. A later version stands; the earlier ones stay as its history. */
export interface InspectionVersion {
  readonly machineId: string;
  readonly shiftStartedMs: number;
  readonly version: number;
  readonly atMs: number;
  /** Who ticked: the name that was typed, and the key it came by. */
  readonly by: string;
  readonly keyId: string;
  readonly ticks: Readonly<Record<string, 'in-order' | 'not-in-order'>>;
  readonly note: string;
}

export interface ServiceStore {
  /** Writes records; one whose id is there already is left as it is. Unknown machines are left out; returns how many were written. */
  addServiceRecords(records: readonly StoredServiceRecord[]): Promise<number>;
  /** False when there is no such record of the machine. */
  deleteServiceRecord(machineId: string, id: string): Promise<boolean>;
  /** Latest first; at most 2000. */
  listServiceRecords(machineId: string): Promise<StoredServiceRecord[]>;
  /** Machines that have a record. */
  servicedMachines(): Promise<string[]>;

  putDefBatch(batch: DefBatch): Promise<void>;
  deleteDefBatch(id: string): Promise<boolean>;
  /** Oldest purchase first; at most 1000. */
  listDefBatches(): Promise<DefBatch[]>;

  /**
   * Writes the next version of an inspection. False when `version` is not the one after the latest: somebody else was quicker,
   * and what they wrote must be seen first.
   */
  addInspection(inspection: InspectionVersion): Promise<boolean>;
  /** All versions for shifts that start in [fromMs, toMs), by shift, then by version. */
  listInspections(machineId: string, fromMs: number, toMs: number): Promise<InspectionVersion[]>;
}
