package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/cause"
)

// documents whose examples are run, from this folder.
var documents = []string{"../../../README.md", "../../../DEVELOPERS.md"}

// example matches a fenced block that shows one command and what it prints.
var example = regexp.MustCompile("(?s)```\n\\$ offbeat ([^\n]*)\n(.*?)```\n")

// Each "$ offbeat ..." block shows what the program really prints, standard output and then standard error.
func TestDocumentsShowRealOutput(t *testing.T) {
	n := 0
	for _, d := range documents {
		file := filepath.Join(here, d)
		before, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		bench(t)
		after := example.ReplaceAllStringFunc(string(before), func(block string) string {
			n++
			m := example.FindStringSubmatch(block)
			stdout, stderr, _ := run(t, "", split(m[1])...)
			if got := stdout + stderr; got != m[2] && !*update {
				t.Errorf("%s: offbeat %s (make update rewrites it)\n%s", d, m[1], difference(m[2], got))
			}
			return "```\n$ offbeat " + m[1] + "\n" + stdout + stderr + "```\n"
		})
		rewrite(t, file, string(before), after)
	}
	if n < 4 {
		t.Errorf("only %d examples were found", n)
	}
}

// split parts a command line at blanks outside double quotes.
func split(line string) []string {
	var args []string
	quoted := false
	for _, f := range strings.FieldsFunc(line, func(r rune) bool {
		if r == '"' {
			quoted = !quoted
		}
		return r == ' ' && !quoted
	}) {
		args = append(args, strings.ReplaceAll(f, `"`, ""))
	}
	return args
}

func rewrite(t *testing.T, file, before, after string) {
	t.Helper()
	if !*update || before == after {
		return
	}
	if err := os.WriteFile(file, []byte(after), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The README's table of default odds is the program's own.
func TestReadmeListsTheDefaultOdds(t *testing.T) {
	const begin, end = "<!-- odds: written by `make update` from compare/cause -->\n", "<!-- end of odds -->\n"
	file := documents[0]
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(b), begin)
	table, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatal("the README has no place for the odds")
	}
	want := "| odds of | part class | new | worked | why |\n|---|---|---|---|---|\n"
	for _, r := range cause.Defaults {
		class := r.Class
		if class == "" {
			class = "any"
		}
		want += fmt.Sprintf("| `%s` | %s | %g | %g | %s |\n", r.Key, class, r.New, r.Worked, r.Why)
	}
	if table != want && !*update {
		t.Errorf("the README's odds differ (make update rewrites them):\n%s", difference(want, table))
	}
	rewrite(t, file, string(b), head+begin+want+end+tail)
}

// Commands and flags that the README names in passing exist, too.
func TestReadmeNamesWhatThereIs(t *testing.T) {
	readme, err := os.ReadFile(documents[0])
	if err != nil {
		t.Fatal(err)
	}
	s, _, _ := streams.Test("")
	root := newRoot(s)
	commands := map[string]bool{"help": true}
	for _, c := range root.Commands() {
		commands[c.Name()] = true
	}
	flag := func(name string) bool {
		return slices.ContainsFunc(root.Commands(), func(c *cobra.Command) bool { return c.Flags().Lookup(name) != nil })
	}
	for _, m := range regexp.MustCompile("`offbeat ([a-z]+)").FindAllStringSubmatch(string(readme), -1) {
		if !commands[m[1]] {
			t.Errorf("the README says offbeat %s; there is no such command", m[1])
		}
	}
	for _, m := range regexp.MustCompile("[ `]--([a-z-]+)").FindAllStringSubmatch(string(readme), -1) {
		if !flag(m[1]) {
			t.Errorf("the README says --%s; no command has it", m[1])
		}
	}
}

// The two commands of the README exist.
func TestReadmeCommandsExist(t *testing.T) {
	makefile, err := os.ReadFile("../../../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	readme, err := os.ReadFile(documents[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile("(?m)(?:^|`)make ([a-z-]+)").FindAllStringSubmatch(string(readme), -1) {
		if !strings.Contains(string(makefile), "\n"+m[1]+":") {
			t.Errorf("the README says make %s; the Makefile has no such target", m[1])
		}
	}
}
