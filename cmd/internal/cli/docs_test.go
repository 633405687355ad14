package cli

import (
	"fmt"
	"go/doc"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

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

// generated checks a part of a document that make update writes, between two marks.
func generated(t *testing.T, file, mark, want string) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	begin := regexp.MustCompile("<!-- " + mark + ": written by [^\n]*-->\n").FindString(string(b))
	end := "<!-- end of " + mark + " -->\n"
	head, rest, ok := strings.Cut(string(b), begin)
	got, tail, ok2 := strings.Cut(rest, end)
	if begin == "" || !ok || !ok2 {
		t.Fatalf("%s has no place for the %s", file, mark)
	}
	if got != want && !*update {
		t.Errorf("%s: the %s differ (make update rewrites them):\n%s", file, mark, difference(want, got))
	}
	rewrite(t, file, string(b), head+begin+want+end+tail)
}

// The topic of the method has every cause's form, the word odds every default.
func TestHelpListsFormsAndOdds(t *testing.T) {
	method, _, _ := run(t, "", "help", "method")
	odds, _, _ := run(t, "", "explain", "odds")
	plain := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	for _, c := range cause.All() {
		if !strings.Contains(plain(method), c.Key+" "+plain(c.Form)) || c.Form == "" {
			t.Errorf("help method says nothing of %s: %s", c.Key, c.Form)
		}
	}
	for _, r := range cause.Defaults() {
		if !strings.Contains(odds, r.Key) {
			t.Errorf("explain odds leaves out %s", r.Key)
		}
	}
}

// The list of packages says of each what it says of itself.
func TestDevelopersListsThePackages(t *testing.T) {
	want := "| package | holds |\n|---|---|\n"
	for _, room := range []string{"acquire", "fit", "compare", "cmd"} {
		err := filepath.WalkDir("../../../"+room, func(path string, e fs.DirEntry, err error) error {
			if err != nil || !e.IsDir() {
				return err
			}
			if e.Name() == "testdata" {
				return fs.SkipDir
			}
			if text := synopsis(t, path); text != "" {
				want += fmt.Sprintf("| `%s` | %s |\n", strings.TrimPrefix(filepath.ToSlash(path), "../../../"), text)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	generated(t, documents[1], "packages", want)
}

// synopsis is the first sentence of a folder's package comment, without the words "Package NAME"; empty where the
// folder holds no package.
func synopsis(t *testing.T, folder string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	text, found := "", false
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		found = true
		parsed, err := parser.ParseFile(token.NewFileSet(), f, nil, parser.PackageClauseOnly|parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		if parsed.Doc != nil && text == "" {
			text = new(doc.Package).Synopsis(parsed.Doc.Text())
		}
	}
	if found && text == "" {
		t.Errorf("%s: the package says nothing of itself", folder)
	}
	return strings.TrimSpace(regexp.MustCompile("^Package [a-z]+ ").ReplaceAllString(text, ""))
}

// The list of make targets is the Makefile's own.
func TestDevelopersListsTheTargets(t *testing.T) {
	makefile, err := os.ReadFile("../../../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	want := "| command | does |\n|---|---|\n"
	for _, m := range regexp.MustCompile("(?m)^([a-z-]+):[^=\n]*## (.*)$").FindAllStringSubmatch(string(makefile), -1) {
		want += fmt.Sprintf("| `make %s` | %s |\n", m[1], m[2])
	}
	generated(t, documents[1], "targets", want)
}

// Commands and flags that the README names in passing exist, too.
func TestReadmeNamesWhatThereIs(t *testing.T) {
	readme, err := os.ReadFile(documents[0])
	if err != nil {
		t.Fatal(err)
	}
	s, _, _ := buffered("")
	root := newRoot(s)
	commands := map[string]bool{"help": true}
	for _, c := range root.Commands() {
		commands[c.Name()] = true
	}
	flag := func(name string) bool {
		has := func(c *cobra.Command) bool { return c.Flags().Lookup(name) != nil }
		return slices.ContainsFunc(root.Commands(), func(c *cobra.Command) bool { return has(c) || slices.ContainsFunc(c.Commands(), has) })
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
