package lot

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"slices"

	"offbeat/acquire/manifest"
)

// Board is one board and its captures.
type Board struct {
	Name     string
	Lot      string
	Captures []manifest.Entry // in the manifest's order
	Digests  []string         // SHA-256 of each, hexadecimal; nil: not looked at
	Place    int              // among the boards of its manifest, from 0
	Copies   []Duplicate      // captures that were listed twice and struck out
}

// Group puts captures of the same board of the same lot together, in the order in which boards first appear. A capture
// that is listed twice counts once.
func Group(entries []manifest.Entry) []Board {
	index := map[[2]string]int{}
	var out []Board
	for _, e := range entries {
		key := [2]string{e.Lot, e.Board}
		i, ok := index[key]
		if !ok {
			i = len(out)
			index[key] = i
			out = append(out, Board{Name: e.Board, Lot: e.Lot, Place: i})
		}
		b := &out[i]
		if k := slices.IndexFunc(b.Captures, func(o manifest.Entry) bool { return o.Capture == e.Capture }); k >= 0 && e.Capture != "-" {
			b.Copies = append(b.Copies, b.copied(e.Capture, e.Capture))
			continue
		}
		b.Captures = append(b.Captures, e)
	}
	return out
}

// Duplicate is something that a lot lists twice, or under a wrong name. Nothing of it is averaged.
type Duplicate struct {
	Kind     string   `json:"kind"` // one of the constants below
	Boards   []string `json:"boards"`
	Captures []string `json:"captures"`
	Detail   string   `json:"detail"`
}

const (
	ListedTwice = "listed twice"                    // one capture of one board, twice
	OneCapture  = "one capture, several boards"     // the same bytes under several names
	OneName     = "one name, several unlike boards" // captures of one board that cannot be of one board
)

// Digest is the SHA-256 of a file, hexadecimal. It fails for what is no plain file: a pipe is gone once it was read.
func Digest(name string) (string, error) {
	switch i, err := os.Stat(name); {
	case err != nil:
		return "", err
	case !i.Mode().IsRegular():
		return "", fmt.Errorf("%s is no plain file", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Identify fills in the digests of the board's captures, "" for one that cannot be read, and strikes out copies of a
// capture that the board has already: a copy tells nothing of how well a capture repeats.
func (b *Board) Identify() {
	if b.Digests != nil {
		return
	}
	captures := b.Captures
	b.Captures, b.Digests = nil, make([]string, 0, len(captures))
	for _, e := range captures {
		digest, err := Digest(e.Capture)
		if err != nil {
			digest = "" // reading the capture will say why
		}
		if i := slices.Index(b.Digests, digest); i >= 0 && digest != "" {
			b.Copies = append(b.Copies, b.copied(e.Capture, b.Captures[i].Capture))
			continue
		}
		b.Captures, b.Digests = append(b.Captures, e), append(b.Digests, digest)
	}
}

func (b *Board) copied(again, first string) Duplicate {
	detail := fmt.Sprintf("%s: %s is listed twice; it counts once", b.Name, first)
	names := []string{first}
	if again != first {
		detail, names = fmt.Sprintf("%s: %s is a copy of %s; it counts once", b.Name, again, first), append(names, again)
	}
	return Duplicate{ListedTwice, []string{b.Name}, names, detail}
}
