package cli

import (
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"strings"
	"unicode"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/ledger/store"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/table"
	"offbeat/compare/report/text"
)

// answer is what a command has to say: a document, and the same for a program.
type answer struct {
	Basis *document.Basis
	JSON  func(io.Writer) error
	CSV   func(io.Writer) error // nil: the document's records
}

// jsonOf is an answer that is one JSON document.
func jsonOf(v any) func(io.Writer) error {
	return func(w io.Writer) error { return report.JSON(w, v) }
}

// deliver writes an answer in each form that was asked for: the table and the page into their files, and to standard output
// one of JSON, a line, and text, unless a table or a page has taken it.
func (o *outputFlags) deliver(s *streams.Streams, a answer) error {
	if o.JSON && o.CSV == "" && o.Report == "" { // nothing else is wanted: no document need be built
		return printed(a.JSON(s.Out))
	}
	d := document.Of(a.Basis)
	if a.CSV == nil {
		a.CSV = func(w io.Writer) error { return table.Write(w, d) }
	}
	if o.CSV != "" {
		if err := writeText(o.CSV, s, a.CSV); err != nil {
			return err
		}
	}
	if o.Report != "" {
		if err := writeText(o.Report, s, func(w io.Writer) error { return page.Write(w, d, maker(s)) }); err != nil {
			return err
		}
	}
	var err error
	switch {
	case o.instead():
	case o.JSON:
		err = a.JSON(s.Out)
	case o.Quiet:
		_, err = fmt.Fprintln(s.Out, d.Short)
	default:
		err = text.Write(s.Out, d, o.style(s))
	}
	return printed(err)
}

// retold is a command line to be copied and added to: without the options of output and the words that are left out; with
// those goes what was special about captures, and what was seen of the board as it was.
func retold(args []string, without ...string) string {
	out := []string{"offbeat"}
	for i := 0; i < len(args); i++ {
		name, _, given := strings.Cut(args[i], "=")
		switch name {
		case "--json", "--explain", "--quiet":
			continue
		case "--csv", "--report":
			if !given {
				i++
			}
			continue
		}
		if slices.Contains(without, args[i]) {
			continue
		}
		if len(without) > 0 && (name == "--with" || name == "--look") {
			if !given {
				i++
			}
			continue
		}
		out = append(out, shellWord(args[i]))
	}
	return hidden(args).Replace(strings.Join(out, " "))
}

// shellWord writes a word so that a shell takes it back as it is, and runs nothing in it.
func shellWord(word string) string {
	switch {
	case strings.IndexFunc(word, unicode.IsControl) >= 0:
		word = strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(word)
		for i := 0; i < len(word); i++ {
			if c := word[i]; c < ' ' || c == 0x7f {
				word = word[:i] + fmt.Sprintf(`\x%02x`, c) + word[i+1:]
			}
		}
		return "$'" + word + "'"
	case strings.ContainsAny(word, "$`\"\\!"):
		return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
	case word == "" || strings.ContainsAny(word, " \t|&;<>()*?#~'{}[]"):
		return `"` + word + `"`
	}
	return word
}

// maker signs a page.
func maker(s *streams.Streams) page.Maker { return page.Maker{Made: s.Now(), Version: version()} }

// version is the program's: the module's version, else the revision it was built from.
func version() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	out := b.Main.Version
	if out == "" || out == "(devel)" {
		out = "devel"
	}
	for _, s := range b.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 && out == "devel" {
			out += "-" + s.Value[:12]
		}
	}
	return out
}

// hidden replaces the passwords of a command line wherever they stand in a text, and whatever a library has made of
// them: their words too, since one with a mark in it may have been cut there.
func hidden(args []string) *strings.Replacer {
	var words []string
	for _, a := range args {
		for _, w := range store.Secrets(a) {
			words = append(words, w)
			words = append(words, strings.FieldsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })...)
		}
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	var pairs []string
	for _, w := range words {
		if len(w) > 2 { // two letters tell nothing, and are in every sentence
			pairs = append(pairs, w, "xxxxx")
		}
	}
	return strings.NewReplacer(pairs...)
}
