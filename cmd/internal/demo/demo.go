// Package demo holds the model harbour: eight invented boards with their designs and captures, embedded. The
// captures come from the program in generate.
package demo

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed harbour
var files embed.FS

// Board is one board of the scenario.
type Board struct {
	Name    string
	Story   string // what its owner says of it
	Truth   string // what is really the matter with it; the captures were made with it
	Design  string // file name
	Capture string // file name
}

// Boards lists the scenario; the first is the one that the demo tells at length.
var Boards = []Board{
	{"lamp-2", "flashed right for years, now too slow", "C1 has drifted to 123.4 nF", "lamp.toml", "lamp-2.csv.gz"},
	{"lamp-1", "checked while we are at it", "nothing wrong", "lamp.toml", "lamp-1.csv.gz"},
	{"lamp-3", "new board, flashes far too fast", "4.7 kΩ fitted as R2 instead of 47 kΩ", "new-lamp.toml", "lamp-3.csv"},
	{"lamp-4", "new board, mostly on", "R1 and R2 exchanged", "new-lamp.toml", "lamp-4.csv"},
	{"lamp-5", "slow since the damp week, flashes too long", "290 kΩ of leakage across C1", "lamp.toml", "lamp-5.csv.gz"},
	{"breakwater", "wired by ourselves for short flashes, but on most of the time", "the diode D1 was never fitted", "breakwater.toml", "breakwater.csv"},
	{"bell", "rings too short", "the electrolytic C1 has dried out to 6.31 µF", "bell.toml", "bell.csv"},
	{"bridge", "the barrier lamp goes out by itself", "the horn's relay makes the supply dip, and the latch falls", "bridge.toml", "bridge.csv"},
}

// Lookup finds a board by name. The error lists the names there are.
func Lookup(name string) (Board, error) {
	var names []string
	for _, b := range Boards {
		if b.Name == name {
			return b, nil
		}
		names = append(names, b.Name)
	}
	return Board{}, fmt.Errorf("the harbour has no board %q; expected one of %s", name, strings.Join(names, ", "))
}

// Files are the designs and captures of the boards, by name.
func Files() (fs.FS, error) { return fs.Sub(files, "harbour") }
