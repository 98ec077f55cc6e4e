"""Other people's calendars, read as busy time: strictly, with the line and the reason where one is refused.

bytes --lines--> parts with line numbers --checks--> what can be meant --busy--> spans
              all of it in a process of its own (apart), with a bound on its time and memory
"""
