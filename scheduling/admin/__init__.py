"""What is booked, and what bookings are decided from, in Django's admin.

- `entered`: courses, outages and calendar links. The services decide from them, so they are edited freely.
- `booked`: sessions and seats. They are added and taken back here, each time through the service that does
  it for every face: it locks what a change touches, asks the engine, and writes all of it or nothing.
- `held`: bookings, series, firings, loads, occupancies, phases, draws and people's hours. They follow from
  sessions and seats and are shown only: a row edited by hand would leave spans, curves and draws that belong
  to nothing. Each page leads to the session or the seat that it is there for.
- `kiln_jobs`: kiln jobs with their sizes and steps, answers, pieces with their stands; shown only.
- `after`: waiting lines, what really happened in firings, and where their pieces lie; shown only, too.

Nothing that is booked is deleted or rewritten: what is called off or given back is kept, and holds nothing.
"""

from scheduling.admin import after, booked, entered, held, kiln_jobs

__all__ = ["after", "booked", "entered", "held", "kiln_jobs"]
