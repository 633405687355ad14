package browsertest

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"
)

// The accessibility checker: axe-core (MPL-2.0) as its package is published, taken when a test asks for it and checked by
// npm against the registry's digest; it is no part of the program.
const (
	checkerPackage = "axe-core@4.11.0"
	checkerFile    = "package/axe.min.js"
)

var checker = sync.OnceValues(func() (string, error) {
	folder, err := os.MkdirTemp("", "offbeat-checker-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(folder)
	ctx, stop := context.WithTimeout(context.Background(), patience)
	defer stop()
	c := exec.CommandContext(ctx, "npm", "pack", checkerPackage, "--prefer-offline", "--silent", "--pack-destination", folder)
	c.WaitDelay = time.Second
	if out, err := c.CombinedOutput(); err != nil {
		return "", fmt.Errorf("npm pack %s: %w %s", checkerPackage, err, bytes.TrimSpace(out))
	}
	packed, err := filepath.Glob(filepath.Join(folder, "*.tgz"))
	if err != nil || len(packed) != 1 {
		return "", fmt.Errorf("npm pack left %d files", len(packed))
	}
	f, err := os.Open(packed[0])
	if err != nil {
		return "", err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return "", err
	}
	for files := tar.NewReader(z); ; {
		h, err := files.Next()
		if errors.Is(err, io.EOF) {
			return "", errors.New(checkerPackage + " has no " + checkerFile)
		}
		if err != nil {
			return "", err
		}
		if h.Name == checkerFile {
			text, err := io.ReadAll(files)
			return string(text), err
		}
	}
})

// Accessible runs the accessibility checker on the page as it is, as a test of its own: all rules of WCAG 2.1, A and AA, and
// the checker's good practice; its rule of contrast, which takes as long as all others together, where colours are asked for.
// It is skipped, with the reason, where the checker can't be had.
func (b *Browser) Accessible(state string, colours bool) {
	outer := b.t
	outer.Helper()
	outer.Run("accessible "+state, func(t *testing.T) {
		script, err := checker()
		if err != nil {
			t.Skip("the accessibility checker can't be had: ", err)
		}
		b.t = t
		defer func() { b.t = outer }()
		var there bool
		if b.Run("return !!window.axe", &there); !there {
			b.CDP("Runtime.evaluate", map[string]any{"expression": script + "\n0"}, nil)
		}
		var wrong []string
		b.Run(`const r = await axe.run(document, {rules: {"color-contrast": {enabled: `+strconv.FormatBool(colours)+`}}, resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]});
return r.violations.flatMap(v => v.nodes.slice(0, 3).map(n => v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary.replace(/\s+/g, " ").slice(0, 240)));`, &wrong)
		for _, w := range wrong {
			t.Error(w)
		}
	})
}
