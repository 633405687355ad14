package cli

import (
	"cmp"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/open"
	"offbeat/acquire/recognise"
	"offbeat/cmd/internal/demo"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/glossary"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// shells are those that the library writes a script for.
var shells = map[string]func(root *cobra.Command, w io.Writer) error{
	"bash":       func(root *cobra.Command, w io.Writer) error { return root.GenBashCompletionV2(w, true) },
	"fish":       func(root *cobra.Command, w io.Writer) error { return root.GenFishCompletion(w, true) },
	"powershell": func(root *cobra.Command, w io.Writer) error { return root.GenPowerShellCompletionWithDesc(w) },
	"zsh":        func(root *cobra.Command, w io.Writer) error { return root.GenZshCompletion(w) },
}

func shellNames() []string { return []string{"bash", "fish", "powershell", "zsh"} }

// newCompletion writes what a shell needs to complete command lines.
func newCompletion(s *streams.Streams) *cobra.Command {
	return worded("completion", func(c *cobra.Command, args []string) error {
		if len(args) != 1 || shells[args[0]] == nil {
			return usagef("%s; expected one of %s", counted(args), strings.Join(shellNames(), ", "))
		}
		return printed(shells[args[0]](c.Root(), s.Out))
	})
}

// counted says which shells were given.
func counted(args []string) string {
	if len(args) == 0 {
		return "the shell is missing"
	}
	return `no shell "` + strings.Join(args, " ") + `"`
}

// entered is what stands on the command line so far.
type entered struct {
	command *cobra.Command
	args    []string // plain
}

// fixed offers a list that hangs on nothing entered.
func fixed(list func() []string) func(entered) []string {
	return func(entered) []string { return list() }
}

func always(list ...string) func(entered) []string { return func(entered) []string { return list } }

// offers are what a flag may be completed with, by the flag's name.
var offers = map[string]func(entered) []string{
	"circuit":             fixed(circuitNames),
	"family":              always(fit.Bipolar, fit.CMOS, fit.OpAmp, fit.Ideal),
	"history":             always(fit.New, fit.Worked),
	"inputs":              always(fit.ActiveLow, fit.ActiveHigh),
	"clock":               always("crystal", "ceramic", "rc"),
	"time-unit":           always(timeUnits...),
	"delimiter":           always(delimiters...),
	"shape":               fixed(recognise.ShapeNames),
	"by":                  always("attributes", "variables"),
	"level-of-inspection": always("S-1", "S-2", "S-3", "S-4", "I", "II", "III"),
	"tolerance":           always("R=", "C="),
	"inspection":          always("normal", "tightened", "reduced"),
	"baud":                always("9600", "19200", "38400", "57600", "115200"),
	"target":              fixed(quantities),
	"cause":               fixed(causeNames),
	"part":                func(t entered) []string { return ending(t.parts(), "=") },
	"reading":             func(t entered) []string { return ending(append(t.parts(), "supply", "control"), "=") },
	"with":                entered.conditions,
	"look":                entered.looks,
	"channel":             entered.channels,
	"unit":                always(timeUnits...),
	"listen":              fixed(portNames),
}

// portNames are the serial ports there are now; what can't be listed is not offered.
func portNames() []string {
	names := []string{"-"}
	ports, _ := listen.Ports()
	for _, p := range ports {
		names = append(names, p.Name)
	}
	return names
}

// arguments are what a command itself may be given.
var arguments = map[string]func(entered) []string{
	"demo": fixed(boardNames), "explain": fixed(glossary.Names), "help": entered.pages, "man": entered.pages, "completion": fixed(shellNames),
}

// endings are the file names that a flag takes, by the flag's name.
var endings = map[string][]string{"csv": {"csv"}, "report": {"html"}, "stock": {"csv"}}

// namesOf are the names of a list, each once.
func namesOf[T any](list []T, name func(T) string) []string {
	var out []string
	for _, x := range list {
		if n := name(x); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func boardNames() []string { return namesOf(demo.Boards, func(b demo.Board) string { return b.Name }) }

func circuitNames() []string {
	return namesOf(slices.Concat(circuit.All(), circuit.Latches()), func(c *circuit.Circuit) string { return c.Name })
}

func causeNames() []string { return namesOf(cause.All(), func(c cause.Cause) string { return c.Name }) }

func quantities() []string {
	return namesOf(compare.Quantities[:], func(q compare.Quantity) string { return q.Key + "=" })
}

// ending puts a text after each of a list.
func ending(list []string, after string) []string {
	out := slices.Clone(list)
	for i := range out {
		out[i] += after
	}
	return out
}

// design is the one that is entered: a circuit's name or a file's; nil where there is none, or it cannot be read.
func (t entered) design() *fit.Design {
	if f := t.command.Flags().Lookup("circuit"); f != nil && f.Value.String() != "" {
		c, err := circuit.Lookup(f.Value.String())
		if err != nil {
			return nil
		}
		d := &fit.Design{Circuit: c.Name}
		for _, p := range c.Parts {
			d.Parts = append(d.Parts, fit.Part{Name: p.Name, Kind: p.Kind})
		}
		return d
	}
	if len(t.args) == 0 {
		return nil
	}
	d, err := designfile.Read(t.args[0], designfile.Flags{})
	if err != nil {
		return nil
	}
	return d
}

func (t entered) parts() (names []string) {
	if d := t.design(); d != nil {
		for _, p := range d.Parts {
			names = append(names, p.Name)
		}
	}
	return names
}

func (t entered) conditions() []string {
	var out []string
	for _, mark := range []string{" || ", " + ", " = ", " at "} {
		out = append(out, ending(t.parts(), mark)...)
	}
	return append(out, "supply = ", "control = ", "temperature = ", "clock = ")
}

func (t entered) looks() (out []string) {
	d := t.design()
	if d == nil {
		return nil
	}
	c, err := circuit.Of(d)
	if err != nil {
		return nil
	}
	for i := range cause.Looks {
		l := &cause.Looks[i]
		for _, of := range l.Subjects(c, d.Parts) {
			out = append(out, l.Entered(of, l.Found), l.Entered(of, l.Sound))
		}
	}
	return out
}

// mostChannels bounds the channels that are looked for.
const mostChannels = 64

// channels are those of the last capture that is entered, by name, and with each role before it.
func (t entered) channels() (out []string) {
	if len(t.args) == 0 {
		return nil
	}
	var names []string
	for n := 1; n <= mostChannels; n++ {
		name, ok := channel(t.args[len(t.args)-1], n)
		if !ok {
			break
		}
		names = append(names, name)
	}
	out = slices.Clone(names)
	for _, r := range slices.Concat(timedRoles, latchRoles[1:]) {
		for _, n := range names {
			out = append(out, r+"="+n)
		}
	}
	return out
}

// channel is the name of a capture's n-th channel; ok is false where there is none.
func channel(capture string, n int) (name string, ok bool) {
	number := strconv.Itoa(n)
	src, err := open.Open(capture, acquire.Options{Channels: []string{number}})
	if err != nil {
		return "", false
	}
	defer src.Close()
	c, err := src.Next()
	if err != nil || len(c.Channels) == 0 {
		return "", false
	}
	return cmp.Or(c.Channels[0].Name, number), true
}

// pages are the commands and topics below what is entered.
func (t entered) pages() (names []string) {
	c, rest, err := t.command.Root().Find(t.args)
	if err != nil || len(rest) > 0 {
		return nil
	}
	for _, s := range c.Commands() {
		if !s.Hidden {
			names = append(names, s.Name())
		}
	}
	return names
}

// offer completes with those of a list that begin as entered, and with no files.
func offer(list func(entered) []string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return func(c *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
		var fitting []string
		directive := cobra.ShellCompDirectiveNoFileComp
		for _, w := range list(entered{c, args}) {
			if strings.HasPrefix(w, begun) {
				fitting = append(fitting, w)
				if strings.HasSuffix(w, "=") || strings.HasSuffix(w, " ") {
					directive |= cobra.ShellCompDirectiveNoSpace // the value follows
				}
			}
		}
		return fitting, directive
	}
}

// complete teaches the shell what flags and arguments may be. Where nothing is said, the shell offers files.
func complete(c *cobra.Command) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		// Neither call can fail: the flag is there, and nothing has been said of it before.
		if list, ok := offers[f.Name]; ok {
			_ = c.RegisterFlagCompletionFunc(f.Name, offer(list))
		}
		if ext, ok := endings[f.Name]; ok {
			_ = c.MarkFlagFilename(f.Name, ext...)
		}
	})
	if list, ok := arguments[c.Name()]; ok && c.HasParent() && !c.Parent().HasParent() {
		c.ValidArgsFunction = offer(list)
	}
	for _, s := range c.Commands() {
		complete(s)
	}
}
