package cli

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire/recognise"
	"offbeat/cmd/internal/demo"
	"offbeat/compare/glossary"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// words are what a flag may be completed with, by the flag's name.
var words = map[string]func() []string{
	"circuit":             circuitNames,
	"family":              func() []string { return []string{fit.Bipolar, fit.CMOS, fit.Ideal} },
	"history":             func() []string { return []string{fit.New, fit.Worked} },
	"clock":               func() []string { return []string{"crystal", "ceramic", "rc"} },
	"time-unit":           func() []string { return []string{"s", "ms", "us", "ns"} },
	"delimiter":           func() []string { return []string{",", ";", "tab", "space"} },
	"shape":               recognise.ShapeNames,
	"by":                  func() []string { return []string{"attributes", "variables"} },
	"level-of-inspection": func() []string { return []string{"S-1", "S-2", "S-3", "S-4", "I", "II", "III"} },
}

// endings are the file names that a flag takes, by the flag's name.
var endings = map[string][]string{"csv": {"csv"}, "report": {"html"}, "stock": {"csv"}}

// arguments are what a command itself may be given.
var arguments = map[string]func() []string{"demo": boardNames, "explain": glossary.Names}

func boardNames() []string {
	var names []string
	for _, b := range demo.Boards {
		names = append(names, b.Name)
	}
	return names
}

func circuitNames() []string {
	var names []string
	for _, c := range circuit.All() {
		names = append(names, c.Name)
	}
	return names
}

// offer completes with those of a list that begin as typed, and with no files.
func offer(list func() []string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		var fitting []string
		for _, w := range list() {
			if strings.HasPrefix(w, typed) {
				fitting = append(fitting, w)
			}
		}
		return fitting, cobra.ShellCompDirectiveNoFileComp
	}
}

// complete teaches the shell what flags and arguments may be. Where nothing is said, the shell offers files.
func complete(root *cobra.Command) {
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" { // the library's own, which takes any word for a shell
			c.Args, c.RunE = noArguments, func(c *cobra.Command, _ []string) error { return c.Help() }
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			// Neither call can fail: the flag is there, and nothing has been said of it before.
			if list, ok := words[f.Name]; ok {
				_ = c.RegisterFlagCompletionFunc(f.Name, offer(list))
			}
			if ext, ok := endings[f.Name]; ok {
				_ = c.MarkFlagFilename(f.Name, ext...)
			}
		})
		if list, ok := arguments[c.Name()]; ok {
			c.ValidArgsFunction = offer(list)
		}
	}
}
