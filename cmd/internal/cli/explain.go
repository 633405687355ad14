package cli

import (
	"cmp"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/glossary"
	"offbeat/compare/report/document"
	"offbeat/compare/report/text"
)

func newExplain(s *streams.Streams) *cobra.Command {
	return &cobra.Command{
		Use:   "explain [WORD]",
		Short: "Say what a word of the output means",
		Long: `Explain says what a word means that the other commands print: a standard's term, a cause, a number. Without
a word it lists all that it knows. "offbeat explain odds" lists the default prior odds of the causes.`,
		Example: `  offbeat explain guard band
  offbeat explain leakage
  offbeat explain odds`,
		RunE: func(_ *cobra.Command, args []string) error {
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
		},
	}
}
