// Package cli is the command line: one file a command. It reads flags and files, calls the rooms that know
// how, and prints what they say; it holds no arithmetic.
package cli

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/glossary"
	"offbeat/compare/report/document"
	"offbeat/compare/report/text"
	"offbeat/fit/workers"
)

// Main runs the program and returns its exit status.
func Main(args []string, s *streams.Streams) (status int) {
	s = s.Guard()
	defer func() {
		if err := workers.Caught(recover()); err != nil {
			fmt.Fprintf(s.Err, "offbeat: %v and the command line\n", err)
			status = Failed
		}
	}()
	root := newRoot(s)
	root.SetArgs(args)
	s.Typed = args
	begun := false
	root.PersistentPreRun = func(*cobra.Command, []string) { begun = true }
	c, err := root.ExecuteC()
	switch broken := s.Broken(); {
	case broken != nil && (err == nil || err == broken || !begun): // of the library's own pages, which do not look or do not say
		err = printed(broken)
	case err != nil && !begun:
		err = usage(err) // the library's own complaints are about the command line
	}
	if err != nil {
		complain(s.Err, c, err, hidden(args))
	}
	return Status(err)
}

// newRoot builds the command tree.
func newRoot(s *streams.Streams) *cobra.Command {
	root := worded("offbeat", func(c *cobra.Command, _ []string) error { return c.Help() })
	root.Args = noArguments
	root.SilenceErrors, root.SilenceUsage, root.DisableAutoGenTag = true, true, true
	root.SuggestionsMinimumDistance = 2
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	root.SetFlagErrorFunc(flagFault)
	root.SetHelpCommand(newHelp(root))
	root.SetHelpFunc(helpPage(s))
	root.SetUsageFunc(usagePage)
	root.CompletionOptions.DisableDefaultCmd = true
	root.Version = version()
	root.SetVersionTemplate("offbeat {{.Version}}\n")
	for _, c := range []*cobra.Command{
		newReconcile(s, nil),
		newBench(s, nil),
		newMeasure(s, nil),
		newPredict(s, nil),
		newRetune(s, nil),
		newLot(s, nil),
		newLedger(s, nil),
		newListen(s, nil),
		newDemo(s, nil),
		newExplain(s),
		newMan(s),
		newCompletion(s),
	} {
		root.AddCommand(c)
	}
	for _, t := range []string{"design", "captures", "streams", "values", "conditions", "looks", "method"} {
		root.AddCommand(worded(t, nil))
	}
	root.AddCommand(wiringCommand(), schemaCommand(s))
	complete(root)
	ownWords(root)
	return root
}

func newExplain(s *streams.Streams) *cobra.Command {
	return worded("explain", func(_ *cobra.Command, args []string) error {
		style := text.Style{Width: s.Width, Color: s.Color}
		if len(args) == 0 {
			return printed(text.Write(s.Out, document.Glossary(), style))
		}
		word := strings.Join(args, " ")
		t, ok := glossary.Lookup(word)
		if !ok {
			return usagef("no word %q%s", word, cmp.Or(designfile.Meant("; ", word, glossary.Names()), "; offbeat explain lists all words"))
		}
		return printed(text.Write(s.Out, document.Explained(t), style))
	})
}
