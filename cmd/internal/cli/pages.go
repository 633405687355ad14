package cli

import (
	"embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"offbeat/acquire/quantity"
	"offbeat/acquire/recognise"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/cause"
	"offbeat/compare/report/schema"
	"offbeat/compare/schematic"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// pages hold the words of each command and topic: how it is typed, what it is in a line, what it does, examples.
//
//go:embed pages
var pages embed.FS

// lists are what {…} in a page stands for, from the rooms that own it.
var lists = map[string]func(b *strings.Builder){
	"causes": func(b *strings.Builder) {
		for i, c := range cause.All() {
			b.WriteString(map[bool]string{true: ", "}[i > 0] + c.Kind)
		}
	},
	"circuits": func(b *strings.Builder) {
		for _, c := range slices.Concat(circuit.All(), circuit.Latches()) {
			names := make([]string, len(c.Parts))
			for i, p := range c.Parts {
				names[i] = p.Name
			}
			fmt.Fprintf(b, "    %-15s %-28s %s\n", c.Name, strings.Join(names, " "), c.Title)
		}
	},
	"kinds": func(b *strings.Builder) {
		b.WriteString("    resistors   " + strings.Join(designfile.Kinds(fit.Resistor), ", ") + "\n    capacitors  " + strings.Join(designfile.Kinds(fit.Capacitor), ", ") + "\n")
	},
	"shapes": func(b *strings.Builder) { b.WriteString("    " + strings.Join(recognise.ShapeNames(), "\n    ")) },
	"wirings": func(b *strings.Builder) {
		for _, s := range wiring.All() {
			b.WriteString("    " + s.Name + strings.Repeat(" ", max(1, 16-len(s.Name))) + s.Title + "\n")
		}
	},
	"forms": forms, "looks": looks,
}

// worded makes the command or topic of a page; a test reads every page.
func worded(name string, run func(c *cobra.Command, args []string) error) *cobra.Command {
	text, _ := pages.ReadFile("pages/" + name + ".txt")
	use, rest, _ := strings.Cut(string(text), "\n")
	short, rest, _ := strings.Cut(rest, "\n\n")
	long, examples, _ := strings.Cut(rest, "\nEXAMPLES\n")
	for list, write := range lists {
		if mark := "{" + list + "}"; strings.Contains(long, mark) {
			var b strings.Builder
			write(&b)
			long = strings.Replace(long, mark, strings.TrimRight(b.String(), "\n"), 1)
		}
	}
	return &cobra.Command{Use: use, Short: short, Long: strings.TrimRight(long, "\n"), Example: strings.TrimRight(examples, "\n"), RunE: run}
}

// forms are the causes' forms, for who recomputes what is stated.
func forms(b *strings.Builder) {
	for _, c := range cause.All() {
		fmt.Fprintf(b, "  %-14s  %s\n", c.Key, c.Form)
	}
	b.WriteString("\nOf shifted parts outside their tolerance, the share that lies above it:\n\n")
	for _, s := range cause.Sides {
		fmt.Fprintf(b, "  %-14s  %g  %s\n", s.Class, s.Up, s.Why)
	}
}

// looks are the looks, and how likely each cause shows in them.
func looks(b *strings.Builder) {
	for i := range cause.Looks {
		l := &cause.Looks[i]
		part := ""
		if l.Of != "" {
			part = "C1"
		}
		fmt.Fprintf(b, "\n\n%s\n\n    --look %q or %q, %.0f min\n", l.Text(part), l.Entered(part, l.Found), l.Entered(part, l.Sound), l.Minutes)
		for _, c := range cause.All() {
			for _, s := range c.Shows {
				if s.Look == l.Name {
					fmt.Fprintf(b, "\n  %-22s  %-5s  %s", showKey(c.Key, s.Class), quantity.Probability(s.P), s.Why)
				}
			}
		}
		fmt.Fprintf(b, "\n  %-22s  %-5s  all else", "otherwise", quantity.Probability(l.Careless))
	}
}

// showKey names a cause and the class of part that a row holds for.
func showKey(key, class string) string {
	if class == "" {
		return key
	}
	return key + "(" + class + ")"
}

// schemaCommand is the topic that prints what the program's JSON holds: JSON Schema alone, to be handed to a program.
func schemaCommand(s *streams.Streams) *cobra.Command {
	c := worded("json", nil)
	c.SetHelpFunc(func(*cobra.Command, []string) {
		if text, err := schema.JSON(true); err == nil { // a test compiles it
			fmt.Fprintln(s.Out, string(text))
		}
	})
	return c
}

// wiringCommand is the topic of how a board's wiring is written, with a page for each wiring that the program brings along.
func wiringCommand() *cobra.Command {
	c := worded("wiring", nil)
	pages := wiringPages()
	for _, s := range wiring.All() {
		c.AddCommand(&cobra.Command{Use: s.Name, Short: s.Title, Long: pages[s.Name]})
	}
	transistors := worded("wiring-multivibrator", nil)
	transistors.Long += pages["multivibrator"]
	c.AddCommand(transistors)
	return c
}

// wiringPages are the texts by the wirings' names, drawn once.
var wiringPages = sync.OnceValue(func() map[string]string {
	pages := map[string]string{"multivibrator": "\n" + drawn(schematic.Named("multivibrator"))}
	for _, s := range wiring.All() {
		text, err := wiringPage(s)
		if err != nil {
			text = err.Error() // a test reads every shipped wiring
		}
		pages[s.Name] = text
	}
	return pages
})

// drawn is a small drawing of a board with its signs explained.
func drawn(d *schematic.Drawing) string {
	return "\nThe board (▯ a resistor, ═ a capacitor, ▽ a diode; ┬ ┼ ┴ join, │ passes by):\n\n" + indented(d.Text())
}

// wiringPage prints a shipped wiring to copy and change, with a small drawing of it.
func wiringPage(s wiring.Shipped) (string, error) {
	w, err := s.Wiring()
	if err != nil {
		return "", err
	}
	text := strings.ToUpper(s.Title[:1]) + s.Title[1:] + ".\n\nAs a design file says it:\n\n    wiring = \"\"\"\n" + indented(s.Text) + "    \"\"\"\n"
	if len(s.Shares) > 0 {
		text += "    [nodes]\n"
		for n, share := range s.Shares {
			text += "    " + n + " = \"" + strconv.Itoa(int(100*share)) + " %" + "\"            # of the supply\n"
		}
	}
	return text + drawn(schematic.Of(w)), nil
}

func indented(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		b.WriteString("    " + line)
	}
	return b.String()
}
