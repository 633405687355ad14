package cli

const streamsTopic = `A microcontroller that times the edges of the circuit's output prints a line for each. offbeat listen hears it on
a serial port or on standard input, and understands these lines (blanks, tabs, commas and semicolons alike):

    1234567,1            time and level, at each edge; the level may be a word: H, LOW, rise
    H 8700               level and how long it lasted
    8700                 how long each level lasted, in turn; a sign tells the level: +8700 -4300
    1234567,512          time and reading of a converter, at each look
    ! any words          the board has missed edges: no pulse is taken across this line

A time of day that a terminal put before the line is taken off. Other lines are chatter; one such as
"time_us,level" or "rate 500000 Hz" tells the unit. A unit may also stand behind each number (8.7 ms). Where
nothing tells it, whole numbers are taken as microseconds and decimals as seconds, and the result says that
this is a guess; --unit settles it: s, ms, us, ns, min, h, or a tick as 62.5ns or 2MHz.

What can go wrong is survived and counted, and never makes a pulse that was not there: garbage and cut lines, a line
that was lost (a level twice in a row) or that lies about the time, a board that restarts, a 32-bit counter that
wraps, a port that is unplugged and comes back.

What a port brings is kept as it arrives, in a file named by the time, or by --save. That file is a capture: measure
and reconcile read it with the same result. It is the board's own lines, byte for byte, between lines that begin
with "# offbeat": a header, the marks, and a note wherever the port was away.

A mark is a few words at an instant, typed at the terminal or on the page. The step that the times take at each mark
is fitted, and with a design the part whose change would explain the steps of both times.

The board's clock is the instrument's: say --clock crystal, ceramic or rc. A firmware example with input capture,
one with interrupts alone, and a text on resolution, wrap and clock lie in acquire/listen/firmware of the source.
offbeat listen --simulate DESIGN prints what such a board would print.`
