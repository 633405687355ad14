package cli

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/compare/schematic"
	"offbeat/fit/wiring"
)

// wiringCommand is the topic of how a board's wiring is written, with a page for each wiring that the program brings along.
func wiringCommand() *cobra.Command {
	c := worded("wiring", nil)
	for _, s := range wiring.All() {
		text, err := wiringPage(s)
		if err != nil {
			text = err.Error() // a test reads every shipped wiring
		}
		c.AddCommand(&cobra.Command{Use: s.Name, Short: s.Title, Long: text})
	}
	transistors := worded("wiring-multivibrator", nil)
	transistors.Long += "\n" + drawn(schematic.Named("multivibrator"))
	c.AddCommand(transistors)
	return c
}

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
