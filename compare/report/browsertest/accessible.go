package browsertest

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// The accessibility checker: axe-core (MPL-2.0) as its package is published, taken when a test first asks for it; it is no
// part of the program.
const (
	checkerPackage = "axe-core@4.11.0"
	checkerFile    = "package/axe.min.js"
	checkerDigest  = "e9e5863c33a874f09bc01acd9234b7e3c871479f5eef8802fa582544465e6d01" // SHA-256 of that file
)

// checker reads it from where it was kept, or takes it anew and keeps it.
var checker = sync.OnceValues(func() (string, error) {
	kept := ""
	if folder, err := os.UserCacheDir(); err == nil {
		kept = filepath.Join(folder, "offbeat-tests", checkerPackage+".js")
	}
	if text, err := os.ReadFile(kept); err == nil && fmt.Sprintf("%x", sha256.Sum256(text)) == checkerDigest {
		return string(text), nil
	}
	text, err := fetched()
	if digest := fmt.Sprintf("%x", sha256.Sum256(text)); err == nil && digest != checkerDigest {
		return "", fmt.Errorf("%s has the digest %s, expected %s", checkerFile, digest, checkerDigest)
	}
	if err == nil && kept != "" && os.MkdirAll(filepath.Dir(kept), 0o755) == nil {
		os.WriteFile(kept, text, 0o644) // where it can't be kept it is taken again
	}
	return string(text), err
})

// fetched takes the checker from the registry.
func fetched() ([]byte, error) {
	folder, err := os.MkdirTemp("", "offbeat-checker-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	ctx, stop := context.WithTimeout(context.Background(), patience)
	defer stop()
	c := exec.CommandContext(ctx, "npm", "pack", checkerPackage, "--prefer-offline", "--silent", "--pack-destination", folder)
	c.WaitDelay = time.Second
	if out, err := c.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("npm pack %s: %w %s", checkerPackage, err, bytes.TrimSpace(out))
	}
	packed, err := filepath.Glob(filepath.Join(folder, "*.tgz"))
	if err != nil || len(packed) != 1 {
		return nil, fmt.Errorf("npm pack left %d files", len(packed))
	}
	f, err := os.Open(packed[0])
	if err != nil {
		return nil, err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, err
	}
	for files := tar.NewReader(z); ; {
		h, err := files.Next()
		if errors.Is(err, io.EOF) {
			return nil, errors.New(checkerPackage + " has no " + checkerFile)
		}
		if err != nil {
			return nil, err
		}
		if h.Name == checkerFile {
			return io.ReadAll(files)
		}
	}
}

// LayoutFaults lists what is wrong with the page as it is laid out: all the checks that need a real layout.
//
//go:embed layout.js
var LayoutFaults string

// Contrast lists texts, those in pictures too, that stand out less from what they stand on than WCAG 2.1 asks (1.4.3: 4.5 to 1,
// or 3 to 1 where they are large); what is hidden or can't be used now is left out, as there.
//
//go:embed contrast.js
var Contrast string

// accessible is what Accessible runs in the page.
//
//go:embed accessible.js
var accessible string

// undrawn takes what is only drawn out of the pictures until redraw is called: half of a page's elements, which no rule is about, as
// they have no role, name, link, focus or id. What they hold of these stays, and what holds it.
//
//go:embed undrawn.js
var undrawn string

// Accessible runs the accessibility checker on the page as it is, as a test of its own: all rules of WCAG 2.1, A and AA, and
// the checker's good practice. Those of colours, and those that read style sheets and media, run where colours are asked for;
// the others where the page stands otherwise than when they were last asked. Of texts that look alike, on any page so far,
// the first and the last are given to the checker's rule of contrast, which takes a page's time for some hundred: Contrast asks the same of every text.
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
		judged, err := json.Marshal(b.c.judged)
		if err != nil {
			t.Fatal(err)
		}
		var r struct{ Looks, Wrong []string }
		b.Run(undrawn+fmt.Sprintf("const colours = %t, judged = new Set(%s);\n", colours, judged)+accessible, &r)
		b.c.judged = r.Looks
		for _, w := range r.Wrong {
			t.Error(w)
		}
	})
}

// Roles counts what the page is to a screen reader, by role; what it passes over is left out, and what is only drawn.
func (b *Browser) Roles() map[string]int {
	b.t.Helper()
	b.Run(undrawn+"window.redraw = redraw", nil)
	defer b.Run("window.redraw()", nil)
	var tree struct {
		Nodes []struct {
			Ignored bool
			Role    struct{ Value string }
		}
	}
	b.CDP("Accessibility.getFullAXTree", map[string]any{}, &tree)
	out := map[string]int{}
	for _, n := range tree.Nodes {
		if !n.Ignored {
			out[n.Role.Value]++
		}
	}
	return out
}
