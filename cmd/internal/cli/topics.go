package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/acquire/quantity"
	"offbeat/acquire/recognise"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// topic is a help page that is no command.
type topic struct{ name, short, text string }

func (t topic) command() *cobra.Command {
	return &cobra.Command{Use: t.name, Short: t.short, Long: t.text}
}

var topics = []topic{
	{"design", "How a design file is written", designPage()},
	{"captures", "What captures are read, and how", capturesTopic + "\n\nThe shapes, as --shape takes them:\n\n    " + strings.Join(recognise.ShapeNames(), "\n    ")},
	{"streams", "What lines of a microcontroller are read, and what is survived", streamsTopic},
	{"values", "How values, units and tolerances are written", valuesTopic},
	{"conditions", "How --with says what was special about a capture", conditionsTopic},
	{"looks", "What --look says was seen, and how likely each cause shows in it", looksPage()},
	{"method", "How it decides: times, priors, law, verdict, and what it cannot do", methodPage()},
}

// designPage is the topic with its lists filled in from the rooms that own them.
func designPage() string {
	kinds := "    resistors   " + strings.Join(designfile.Kinds(fit.Resistor), ", ") + "\n    capacitors  " + strings.Join(designfile.Kinds(fit.Capacitor), ", ") + "\n"
	return strings.NewReplacer("CIRCUITS", circuitTable(), "KINDS", kinds).Replace(designTopic)
}

// looksPage lists the looks and what shows in each, from the room that owns the causes.
func looksPage() string {
	var b strings.Builder
	b.WriteString(`--look says what a look at the board showed: an outcome of two, that needs no instrument. In a design's [[evidence]] the key
is look. A look at a part names it:

    offbeat reconcile lamp.toml capture.csv --look "marking R2 right" --look "inspection C1 faulty"

The advice offers a look where it tells much for its minutes. What it tells is computed from how likely each cause shows
in it; with what was seen, those likelihoods multiply the causes' odds. All of them are common practice but where said.`)
	for i := range cause.Looks {
		l := &cause.Looks[i]
		part := ""
		if l.Of != "" {
			part = "C1"
		}
		fmt.Fprintf(&b, "\n\n%s\n\n    --look %q or %q, %.0f min\n", l.Text(part), l.Entered(part, l.Found), l.Entered(part, l.Sound), l.Minutes)
		for _, c := range cause.All() {
			for _, s := range c.Shows {
				if s.Look == l.Name {
					fmt.Fprintf(&b, "\n  %-22s  %-5s  %s", showKey(c.Key, s.Class), quantity.Probability(s.P), s.Why)
				}
			}
		}
		fmt.Fprintf(&b, "\n  %-22s  %-5s  all else", "otherwise", quantity.Probability(l.Careless))
	}
	return b.String()
}

// showKey names a cause and the class of part that a row holds for.
func showKey(key, class string) string {
	if class == "" {
		return key
	}
	return key + "(" + class + ")"
}

// circuitTable lists the circuits with their parts.
func circuitTable() string {
	var b strings.Builder
	for _, c := range slices.Concat(circuit.All(), circuit.Latches()) {
		names := make([]string, len(c.Parts))
		for i, p := range c.Parts {
			names[i] = p.Name
		}
		fmt.Fprintf(&b, "    %-15s %-28s %s\n", c.Name, strings.Join(names, " "), c.Title)
	}
	return b.String()
}

const designTopic = `A design file says what the drawing says. It is TOML; # begins a remark.

    title   = "Harbour lamp 3"
    circuit = "astable"            # one of the list below
    supply  = "5 V ± 2 %"          # silent: 5 V ± 5 %
    history = "new"                # new, or worked (it used to be right); silent: new

    [parts]                        # the circuit's own names
    R1 = "10k ± 1 %"
    R2 = "47k ± 1 %"
    C1 = { value = "100n", tolerance = "10 %", kind = "film", tempco = "-200 ppm/K" }

    [timer]
    family = "bipolar"             # bipolar, cmos, ideal; silent: the circuit's usual one
    upper  = "2.36 V ± 2 %"        # thresholds, where they are known; also a ratio to the supply, "0.52"
    inputs = "active low"          # of a bistable: active low, active high; silent: active low

    [target]                       # any of frequency, period, high_time, low_time, duty_factor
    frequency = "138 Hz ± 3 %"     # the tolerance is relative, for duty_factor too

    [was]                          # what it used to show, where no earlier result was kept: asks what has moved since
    frequency = "138 Hz ± 2 %"     # any of the same; implies history = "worked"

    [instrument]
    clock = "crystal"              # crystal (100 ppm), ceramic (1.1 %), rc (10 %), or "50 ppm"; silent: crystal
    channel_scale = "3 %"          # of the channel that shows the capacitor: limit of its scale,
    channel_zero = "1 %"           # and of its zero, as a share of the supply; silent: these
    name = "bench counter 2"       # for the record, with the day of its last calibration
    calibrated = "2026-01-31"

    [readings]                     # of parts, and of nodes whose voltage stands still: "supply", "control" (the control pin)
    R2 = "46.93k ± 0.3 %"          # limits; with (k=2) an expanded uncertainty

    [odds]                         # prior odds against nothing wrong = 1; silent: by part class and history
    shifted.C1 = 0.3               # one part's; a bare cause gives each of its parts that odds; 0 leaves it out
    other_value = 0.05

    [[evidence]]                   # captures and readings of this board, so that offbeat reconcile lamp.toml is enough
    capture = "lamp-2.csv.gz"      # from the design's folder; further keys: channel, invert, time_unit, level, sha256
    with    = ["R2 || 47.2k ± 1 %"] # what was special about it (help conditions)
    [[evidence]]
    reading = "C1 = 121n ± 1 %"
    on      = false                # left out
    [[evidence]]
    look    = "marking R2 right"   # what was seen (help looks)

A board that no circuit fits is written by its wiring: see offbeat help wiring.

Circuits and their parts (in the astable R1 goes from the supply to the discharge pin, R2 from there to C1):

CIRCUITS
Kinds of part, which set the prior odds:

KINDS
A potentiometer used as a variable resistor has its track's value and position = "40 %" of the travel, or "unknown".
A part with no tolerance is taken as ± 5 % for a resistor, ± 10 % for a capacitor, ± 20 % for an electrolytic one. Each
assumption is listed with the result.

On the command line --circuit, --part, --supply, --target, --was, --reading, --family, --inputs, --history and --clock say it:

    offbeat predict --circuit astable --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% --part C1.kind=film --supply 5V`

const capturesTopic = `A capture is a text file as a bench exports it: a table of time and volt, sampled logic, a list of transitions
or durations, a value change dump (IEEE 1364), and more. It is recognised by its structure; --explain says what was recognised and why.
Compressed (gzip) files, UTF-16, decimal commas and standard input ("-") are read too.

Of several channels --channel chooses one. A capacitor's waveform beside the output is --channel out=NAME --channel
cap=NAME, both in one capture and sampled in volts: its time constants, thresholds and final voltages are shown, and count in
reconcile. A temperature in °C beside the output is --channel out=NAME --channel temperature=NAME: the drift is then told
in ppm/K. A bistable has out, set and reset, and finds channels of those names by itself.

Where a guess is wrong, a flag overrides it: --time-unit, --interval, --channel, --delimiter, --invert, --level,
--shape, --record, --clock. The first and the last pulse never count, since the record's ends cut them.

Every line is counted once; rows that could not be used are counted as skipped and their reasons listed.`

const valuesTopic = `A value is a number with a prefix, a unit or both, or an IEC 60062 code:

    10k    4k7    470R    R47    1.5 MΩ        100n    4n7    n22    1u0    22 µF    138 Hz    7.2 ms    5 V    45 %

A tolerance follows after ± (also +-, +/- or :), as a percentage, in ppm, or in the value's own unit; or as an
IEC 60062 letter:

    10k ± 1 %    10k:1%    46.93k ± 0.2k    100u +80/-20 %    4k7 J    100n K

(k=2) after it says that it is an expanded uncertainty with that coverage factor; otherwise it is a pair of limits.

Refused, because it can mean two things: "100n F" (write 100nF or 100n ± 1 %), "100" as a capacitor (10p or
100p), "1,000", and a unit on the value but none on the tolerance. "104" as a capacitor is its code: 100 nF. A bare
number as a resistor is in ohm.`

const conditionsTopic = `--with before a capture says what was special about it; it holds for that capture alone, and may be repeated:

    offbeat reconcile lamp.toml plain.csv --with "R2 || 100k ± 1 %" changed.csv

` + designfile.ConditionHelp + `

The limits of what is known count: a known part's error is solved for with everything else. A condition written alike
before several captures is one and the same thing, so its error does not average out. With no limits the value counts
as exact. Where the board stands still under a condition, say so in the place of the capture: it bounds the time, and a
board that would not run there is none the worse for it:

    offbeat reconcile lamp.toml plain.csv --with "C1 at 45 °C ± 5 °C" "no pulse in 60 s"

A board that never runs has that alone: what can stop it, parts missing and bridged among it.

    offbeat reconcile lamp.toml "no pulse in 60 s"

A probe on the capacitor is two of them, --with "C1 || 10M" --with "C1 || 12p": it is then part of the circuit,
and the verdict is of the board without it. A capacitor put in the place of another takes the leak of that one along; any other change leaves it.`
