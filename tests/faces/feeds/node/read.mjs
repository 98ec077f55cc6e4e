// Reads calendars for the tests: a line of JSON comes in, {"reader": .., "content": ..}, and a line goes out.
import readline from "node:readline";

import ICAL from "ical.js";
import nodeIcal from "node-ical";

const SPAN = { from: new Date("2019-01-01T00:00:00Z"), to: new Date("2041-01-01T00:00:00Z") };
const MOST_INSTANCES = 10000;

function byIcalJs(content) {
  const components = new ICAL.Component(ICAL.parse(content)).getAllSubcomponents("vevent");
  const singly = (component) => component.hasProperty("recurrence-id");
  const uid = (component) => component.getFirstPropertyValue("uid");
  const series = new Set(components.filter((each) => each.hasProperty("rrule")).map(uid));
  return components
    .filter((each) => !(singly(each) && series.has(uid(each)))) // its series finds it
    .flatMap((each) => {
      // Left to itself, ical.js takes the exceptions of one series for those of every other.
      const exceptions = components.filter((other) => singly(other) && uid(other) === uid(each));
      const event = new ICAL.Event(each, { exceptions: singly(each) ? [] : exceptions });
      return event.isRecurring() ? meetings(event) : [seenByIcalJs(event, event.startDate, event.endDate)];
    });
}

function meetings(event) {
  const found = [];
  const starts = event.iterator();
  for (let start = starts.next(); start && found.length < MOST_INSTANCES; start = starts.next()) {
    const { item, startDate, endDate } = event.getOccurrenceDetails(start);
    found.push(seenByIcalJs(item, startDate, endDate));
  }
  return found;
}

function seenByIcalJs(event, start, end) {
  return {
    starts_at: start.toJSDate().toISOString(),
    ends_at: end.toJSDate().toISOString(),
    uid: event.uid,
    title: event.summary,
    description: event.description,
    status: event.component.getFirstPropertyValue("status"),
    transparency: event.component.getFirstPropertyValue("transp"),
  };
}

function byNodeIcal(content) {
  return Object.values(nodeIcal.sync.parseICS(content))
    .filter((entry) => entry.type === "VEVENT")
    .flatMap((entry) => nodeIcal.expandRecurringEvent(entry, SPAN))
    .map(({ start, end, event }) => ({
      starts_at: start.toISOString(),
      ends_at: end.toISOString(),
      uid: event.uid,
      title: event.summary,
      description: event.description,
      status: event.status,
      transparency: event.transparency,
    }));
}

const READERS = { "ical.js": byIcalJs, "node-ical": byNodeIcal, jcal: (content) => ICAL.parse(content) };

for await (const line of readline.createInterface({ input: process.stdin })) {
  const { reader, content } = JSON.parse(line);
  let answer;
  try {
    answer = { found: READERS[reader](content) };
  } catch (error) {
    answer = { error: String(error.stack) };
  }
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
