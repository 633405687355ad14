package cli

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/text"
)

// newHelp shows the page of a command or a topic.
func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		ValidArgsFunction: offer(arguments["help"]),

		Use:   "help [COMMAND|TOPIC]",
		Short: "Show the page of a command or a topic",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil {
				return usage(err)
			}
			if len(rest) > 0 {
				return noArguments(c, rest)
			}
			return c.Help()
		},
	}
}

// helpPage is how every command and topic shows its page: the same words at any width.
func helpPage(s *streams.Streams) func(*cobra.Command, []string) {
	return func(c *cobra.Command, _ []string) {
		long := strings.TrimSpace(cmp.Or(c.Long, c.Short)) + "\n\n"
		if c.Runnable() || c.HasAvailableSubCommands() {
			long += c.UsageString()
		}
		fmt.Fprint(s.Out, reflow(long, s.Width))
	}
}

// entry begins the line of a list: a command, a flag or what a share is of, and a gap before the words about it.
var entry = regexp.MustCompile(`^ {2}(?:[a-z]\S*| {0,4}-.*?\S) {2,}(?:\d\S* %\s{2,})?`)

// reflow breaks what is wider than the page: paragraphs anew, the words of a list's line under themselves, a command as a shell
// lets it. What else is there to be copied stays whole.
func reflow(long string, width int) string {
	var out, paragraph []string
	widest := 0
	flush := func() {
		if widest > width {
			paragraph = text.Wrap(strings.Join(paragraph, " "), width)
		}
		out, paragraph, widest = append(out, paragraph...), nil, 0
	}
	for line := range strings.SplitSeq(long, "\n") {
		n := utf8.RuneCountInString(line)
		if n > 0 && line[0] != ' ' {
			paragraph, widest = append(paragraph, line), max(widest, n)
			continue
		}
		flush()
		if n > width && strings.HasPrefix(line, "  offbeat ") && !strings.Contains(line, "|") {
			out = append(out, text.Command(strings.TrimSpace(line), "  ", width)...)
			continue
		}
		lead := entry.FindString(line)
		room := width - utf8.RuneCountInString(lead)
		if n <= width || lead == "" || room < narrowWords {
			out = append(out, line)
			continue
		}
		for i, words := range text.Wrap(strings.TrimPrefix(line, lead), room) {
			if i > 0 {
				lead = strings.Repeat(" ", width-room)
			}
			out = append(out, lead+words)
		}
	}
	flush()
	return strings.Join(out, "\n")
}

// narrowWords is the narrowest column that words are broken into.
const narrowWords = 20
