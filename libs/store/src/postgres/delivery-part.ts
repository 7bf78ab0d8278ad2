/** The part of the store that knows destinations and deliveries. */

import type { DeliveryStore } from '../delivery-store.js';
import type { Database } from './database.js';
import {
  deliveryAttempts,
  fanOut,
  listDeliveries,
  recordAttempts,
  resendDelivery,
  retireDeliveries,
  takeDeliveries,
} from './deliveries.js';
import { deleteDestination, listDestinations, machinePlaces, putDestination } from './destinations.js';

/** Binds the part to a database. */
export function deliveryPart(database: Database): DeliveryStore {
  return {
    listDestinations: () => listDestinations(database),
    putDestination: (destination) => putDestination(database, destination),
    deleteDestination: (id) => deleteDestination(database, id),
    machinePlaces: (machineIds) => machinePlaces(database, machineIds),
    fanOut: (outboxIds, deliveries) => fanOut(database, outboxIds, deliveries),
    takeDeliveries: (lease) => takeDeliveries(database, lease),
    recordAttempts: (records) => recordAttempts(database, records),
    listDeliveries: (page) => listDeliveries(database, page),
    deliveryAttempts: (id) => deliveryAttempts(database, id),
    resendDelivery: (id, nowMs) => resendDelivery(database, id, nowMs),
    retireDeliveries: (beforeMs, limit) => retireDeliveries(database, beforeMs, limit),
  };
}
