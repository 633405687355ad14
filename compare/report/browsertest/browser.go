// Package browsertest looks at pages in a headless Chromium, for tests.
package browsertest

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"
)

// Browser drives a headless Chromium over the WebDriver protocol (W3C WebDriver; "goog/cdp" is Chromium's own
// addition for what the standard lacks: the size of a small screen, dark mode, paper sizes).
type Browser struct {
	t    *testing.T
	base string
}

// New starts one, or skips the test where Chromium and its driver are not installed.
func New(t *testing.T) *Browser {
	t.Helper()
	driver, err := exec.LookPath("chromedriver")
	if err != nil {
		t.Skip("chromedriver is not installed: the page is not looked at in a browser")
	}
	binary := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if p, err := exec.LookPath(name); err == nil {
			binary = p
		}
	}
	if binary == "" {
		t.Skip("Chromium is not installed: the page is not looked at in a browser")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skip("no port to drive a browser on: ", err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	cmd := exec.Command(driver, fmt.Sprintf("--port=%d", port))
	if err := cmd.Start(); err != nil {
		t.Skip("chromedriver does not start: ", err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	b := &Browser{t, fmt.Sprintf("http://127.0.0.1:%d", port)}
	for i := 0; ; i++ {
		if r, err := http.Get(b.base + "/status"); err == nil {
			r.Body.Close()
			break
		}
		if i == 100 {
			t.Fatal("chromedriver does not answer")
		}
		time.Sleep(100 * time.Millisecond)
	}
	var session struct{ SessionID string }
	b.Post("/session", map[string]any{"capabilities": map[string]any{"alwaysMatch": map[string]any{
		"browserName":       "chrome",
		"goog:loggingPrefs": map[string]string{"browser": "ALL", "performance": "ALL"},
		"goog:chromeOptions": map[string]any{"binary": binary, "args": []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
			"--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars", "--user-data-dir=" + t.TempDir()}},
	}}}, &session)
	b.base += "/session/" + session.SessionID
	t.Cleanup(func() {
		if r, err := http.NewRequest("DELETE", b.base, nil); err == nil {
			if r, err := http.DefaultClient.Do(r); err == nil {
				r.Body.Close()
			}
		}
	})
	return b
}

// Post sends a command and decodes the value it gives.
func (b *Browser) Post(path string, body, value any) {
	b.t.Helper()
	j, err := json.Marshal(body)
	if err != nil {
		b.t.Fatal(err)
	}
	r, err := http.Post(b.base+path, "application/json", bytes.NewReader(j))
	if err != nil {
		b.t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	if r.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %s", path, text)
	}
	out := struct{ Value any }{value}
	if err := json.Unmarshal(text, &out); err != nil {
		b.t.Fatalf("%s: %v in %s", path, err, text)
	}
}

// CDP sends a command of Chromium's own.
func (b *Browser) CDP(cmd string, params map[string]any, value any) {
	b.t.Helper()
	b.Post("/goog/cdp/execute", map[string]any{"cmd": cmd, "params": params}, value)
}

// Screen sets the width in CSS pixels and the colour scheme.
func (b *Browser) Screen(width int, scheme string) {
	b.t.Helper()
	b.CDP("Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false}, nil)
	b.CDP("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}}, nil)
}

// Open goes to an address.
func (b *Browser) Open(url string) {
	b.t.Helper()
	b.Post("/url", map[string]string{"url": url}, nil)
}

// Run executes a script in the page and decodes what it returns.
func (b *Browser) Run(script string, value any) {
	b.t.Helper()
	b.Post("/execute/sync", map[string]any{"script": script, "args": []any{}}, value)
}

// LogEntry is a line of the console.
type LogEntry struct{ Level, Message string }

// Log takes the entries of a log since the last look.
func (b *Browser) Log(kind string) []LogEntry {
	b.t.Helper()
	var out []LogEntry
	b.Post("/se/log", map[string]string{"type": kind}, &out)
	return out
}

// Asked lists what a page has asked the network for, itself and data in it left out.
func (b *Browser) Asked(page string) []string {
	b.t.Helper()
	var out []string
	for _, e := range b.Log("performance") {
		var m struct {
			Message struct {
				Method string
				Params struct {
					DocumentURL string
					Request     struct{ URL string }
				}
			}
		}
		if err := json.Unmarshal([]byte(e.Message), &m); err != nil {
			b.t.Fatal(err)
		}
		url := m.Message.Params.Request.URL
		if m.Message.Method == "Network.requestWillBeSent" && strings.HasPrefix(m.Message.Params.DocumentURL, page) && url != page && !strings.HasPrefix(url, "data:") {
			out = append(out, url)
		}
	}
	return out
}

// Roles counts what the page is to a screen reader, by role; what it passes over is left out.
func (b *Browser) Roles() map[string]int {
	b.t.Helper()
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

// Picture takes the whole page as it looks now.
func (b *Browser) Picture(file string) {
	b.t.Helper()
	var shot struct{ Data string }
	b.CDP("Page.captureScreenshot", map[string]any{"captureBeyondViewport": true, "format": "png"}, &shot)
	b.save(file, shot.Data)
}

func (b *Browser) save(file, data string) []byte {
	b.t.Helper()
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		b.t.Fatal(err)
	}
	if file != "" {
		if err := os.WriteFile(file, raw, 0o644); err != nil {
			b.t.Fatal(err)
		}
	}
	return raw
}

// Paper prints on a paper of that size in inches and returns the number of pages.
func (b *Browser) Paper(width, height float64, file string) int {
	b.t.Helper()
	var pdf struct{ Data string }
	b.CDP("Page.printToPDF", map[string]any{"paperWidth": width, "paperHeight": height, "printBackground": false}, &pdf)
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(b.save(file, pdf.Data), -1))
}
