package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"offbeat/compare/glossary"
)

// banned are words that may not be printed, each with what is said in its place: one name for one thing, the field's own.
var banned = []struct{ word, instead string }{
	{`(?i)\blikely value|\bmiddle value`, "estimate (median)"},
	{`(?i)leaking|\bleaky\b`, "leakage across C1"},
	{`(?i)(weak|worn) (discharge )?switch`, "weak discharge output"},
	{`(?i)\bswapped|in each other's place`, "exchanged"},
	{`(?i)none of these`, "unexplained: no listed cause fits"},
	{`(?i)\bpin(s|ned)? down\b`, "fixed by the times"},
	{`READ FROM|(?i)what this rests on`, "CAPTURES, READINGS"},
	{`(?i)probability of lying within`, "conformance probability"},
	{`(?i)\bruled out|\bkept out\b`, "excluded"},
	{`(?i)\bnot told\b|\bnone seen\b`, "not resolved, not significant"},
	{`(?i)noise of the periods|adding up`, "random-walk period noise"},
	{`(?i)\basymptotes?\b`, "final voltage"},
	{`(?i)how the times run|what measuring adds|what the whole lot has in common`, "STABILITY, REPEATABILITY AND REPRODUCIBILITY, COMMON TO THE LOT"},
	{`(?i)\breels?\b`, "batch"},
	{`(?i)\bnought\b`, "zero"},
	{`(?i)\b95 % interval`, "95 % coverage interval"},
	{`(?i)\b(design|drawing) promises\b`, "nominal"},
	{`(?i)\bbeforehand\b`, "prior odds"},
	{`\d *[eE]\+?\d\d? *%|\b1e\+02\b`, "a multiple: × 22"},
	{`[^\d.,]0(\.0+)? %|[^\d.,]100(\.0+)? % ?(\)|of|$)`, "< 0.1 %, > 99.9 %"},
	{`[ (]-\d+(\.\d+)? ?[±%…]`, "the sign of minus"},
	{`(?i)times (as likely|as well|its nominal)`, "odds, a multiple"},
}

// borrowed are the words of the framework that reads command lines: help and errors have the program's own.
var borrowed = regexp.MustCompile(`(?m)Usage:|Available Commands|\[command\]|\[flags\]|^(Global )?Flags:|Additional help topics|Use "|for more information|unknown (command|flag|shorthand)|required flag|arg\(s\)|autocompletion|(help|version) for \w+$|invalid argument|needs an argument`)

// plainly are the file names of what a person reads among the goldens.
func plainly(name string) bool {
	if filepath.Ext(name) == ".stderr" {
		return true
	}
	return filepath.Ext(name) == ".stdout" && !strings.Contains(name, "json") && !strings.Contains(name, "csv")
}

// No screen, page of help, entry of the glossary or document has a banned word.
func TestOneNameForOneThing(t *testing.T) {
	texts := map[string]string{}
	files, err := os.ReadDir("testdata/golden")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	for _, f := range files {
		if plainly(f.Name()) {
			texts[f.Name()] = read(t, filepath.Join("testdata/golden", f.Name()))
		}
	}
	s, out, _ := buffered("")
	root := newRoot(s)
	for _, c := range documented(root) {
		if c.Name() == "json" { // its keys stay as they are
			continue
		}
		out.Reset()
		c.Help()
		texts["help "+c.CommandPath()] = out.String()
	}
	for _, g := range glossary.Sections {
		for _, w := range g.Terms {
			texts["explain "+w.Name] = w.Name + ": " + w.Text
		}
	}
	for name, text := range texts {
		if found := borrowed.FindString(text); found != "" {
			t.Errorf("%s: %q is the framework's", name, found)
		}
	}
	texts["README.md"] = read(t, filepath.Join(here, "../../../README.md"))
	for _, b := range banned {
		word := regexp.MustCompile(b.word)
		for name, text := range texts {
			for n, line := range strings.Split(text, "\n") {
				if found := word.FindString(line); found != "" {
					t.Errorf("%s, line %d: %q; say %s:\n\t%s", name, n+1, strings.TrimSpace(found), b.instead, line)
				}
			}
		}
	}
}
