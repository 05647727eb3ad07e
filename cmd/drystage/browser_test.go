package main

import (
	"context"
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdpruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// axe is axe-core 4.14.1 of the npm registry, a checker of accessibility; its licence lies beside it. Only tests use it.
//
//go:embed testdata/axe/axe.min.js
var axe string

// browser is one headless Chromium, and what went wrong in it.
type browser struct {
	ctx   context.Context
	mu    sync.Mutex
	wrong []string
}

// newBrowser starts a browser. Only where DRYSTAGE_TOOLS doesn't ask for all tools a missing one skips the test.
func newBrowser(t *testing.T) *browser {
	slow(t)
	path, err := exec.LookPath("chromium")
	switch {
	case err != nil && os.Getenv("DRYSTAGE_TOOLS") == "all":
		t.Fatal("chromium is missing: make tools")
	case err != nil:
		t.Skip("no chromium here: make tools")
	}
	b := &browser{}
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WSURLReadTimeout(60*time.Second))...)
	t.Cleanup(cancel)
	b.ctx, cancel = chromedp.NewContext(ctx, chromedp.WithListener(b.listen))
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(b.ctx))
	return b
}

// listen collects errors of the console and of the network, and requests to anywhere but the page itself.
func (b *browser) listen(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *cdpruntime.EventExceptionThrown:
		b.wrong = append(b.wrong, fmt.Sprintf("exception: %s %v", e.ExceptionDetails.Text, e.ExceptionDetails.Exception))
	case *cdpruntime.EventConsoleAPICalled:
		if e.Type == "error" || e.Type == "warning" {
			b.wrong = append(b.wrong, fmt.Sprintf("console: %s %v", e.Type, e.Args))
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == "error" || e.Entry.Level == "warning" {
			b.wrong = append(b.wrong, fmt.Sprintf("%s: %s %s", e.Entry.Source, e.Entry.Text, e.Entry.URL))
		}
	case *network.EventRequestWillBeSent:
		if !strings.HasPrefix(e.Request.URL, "data:") && !strings.HasPrefix(e.Request.URL, e.DocumentURL) {
			b.wrong = append(b.wrong, "asked for "+e.Request.URL)
		}
	case *network.EventLoadingFailed:
		b.wrong = append(b.wrong, "loading failed: "+e.ErrorText)
	}
}

// errors gives what went wrong since the last call.
func (b *browser) errors() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := b.wrong
	b.wrong = nil
	return out
}

// screen is one kind of screen.
type screen struct {
	width, height int64
	scheme        string
}

// Places hang on the width and colours on the scheme, so that two screens show all.
var screens = []screen{{390, 844, "dark"}, {1280, 800, "light"}}

// open opens an address on a screen.
func (b *browser) open(t *testing.T, address string, s screen) {
	require.NoError(t, chromedp.Do(b.ctx,
		func(ctx context.Context, to *chromedp.Target) (chromedp.Void, error) {
			_, err := cdp.Call(ctx, to, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: s.scheme}},
			})
			return chromedp.Void{}, err
		},
		chromedp.EmulateViewport(s.width, s.height),
		chromedp.Navigate(address)))
}

// ask evaluates an expression in the page.
func ask[T any](t *testing.T, b *browser, expression string) T {
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(t, err, expression[:min(len(expression), 200)])
	return out
}

// overlaps lists the texts of pictures that lie on each other, and whatever makes the page wider than its screen.
const overlaps = `(() => {
	const out = [];
	if (document.documentElement.scrollWidth > innerWidth + 1) out.push("the page is " + document.documentElement.scrollWidth + " wide: " + [...document.querySelectorAll("main *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll, pre, figure")).map(e => e.outerHTML.slice(0, 60)).slice(0, 3));
	for (const svg of document.querySelectorAll("svg")) {
		const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
		if (!(scale > 0)) continue; // of the other width
		const list = [...svg.querySelectorAll("text")].map(t => [t, t.getBoundingClientRect()]).filter(([t, r]) => r.width > 0 && getComputedStyle(t).visibility === "visible");
		const say = t => t.textContent + " [" + t.getAttribute("class") + "]";
		for (let i = 0; i < list.length; i++) for (let k = 0; k < i; k++) {
			const [s, a] = list[i], [t, b] = list[k];
			const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left), tall = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
			if (wide > 1 && tall > 4 * scale) out.push(say(s) + " lies on " + say(t) + " in " + svg.getAttribute("aria-label"));
		}
	}
	return out;
})()`

// violations are what axe finds that is serious or worse.
const violations = `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.filter(v => v.impact === "serious" || v.impact === "critical").map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 200) + " " + n.failureSummary).join(" ; ")))`

// checkPage opens a page on all screens and wants it whole: no errors, nothing asked of anybody, nothing that overlaps or
// is wider than the screen, and if its parts are new no serious violation of accessibility.
func (b *browser) checkPage(t *testing.T, address string, parts bool) {
	for _, s := range screens {
		b.open(t, address, s)
		say := fmt.Sprintf("%s, %d px, %s", filepath.Base(address), s.width, s.scheme)
		// Pictures far below are prepared when they come near the screen, and must bear that.
		ask[bool](t, b, `new Promise(done => { scrollTo(0, document.body.scrollHeight); setTimeout(() => { scrollTo(0, 0); setTimeout(() => done(true), 30); }, 60); })`)
		// Before all is printed, the pictures of passes among many are read, too.
		ask[bool](t, b, `dispatchEvent(new Event("beforeprint"))`)
		assert.Zero(t, ask[int](t, b, `document.querySelectorAll("noscript").length`), say)
		assert.Empty(t, ask[[]string](t, b, overlaps), say)
		if parts {
			ask[bool](t, b, axe+"; true")
			assert.Empty(t, ask[[]string](t, b, violations), say)
		}
		assert.Empty(t, b.errors(), say)
		assert.Empty(t, ask[string](t, b, `window.evil || ""`), "%s: hostile text ran", say)
		if dir := os.Getenv("DRYSTAGE_SCREENSHOTS"); dir != "" {
			tall := ask[int64](t, b, `document.documentElement.scrollHeight`)
			require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(s.width, min(tall, 2600))))
			shot, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", strings.TrimSuffix(filepath.Base(address), ".html"), s.width, s.scheme)), shot, 0o644))
		}
	}
}

// markup is a scenario whose words try to be markup.
const markup = `drystage: scenario
like: %s
title: "</title><script>window.evil='title'</script><img src=x onerror=\"window.evil='img'\">"
story: "</script><script>window.evil='story'</script><svg onload=\"window.evil='svg'\">"
`

// TestPagesInABrowser opens every page that commands write.
func TestPagesInABrowser(t *testing.T) {
	b := newBrowser(t)
	dir := t.TempDir()
	top, err := filepath.Abs(root)
	require.NoError(t, err)
	evil, out := filepath.Join(dir, "evil.yaml"), filepath.Join(dir, "out")
	like, err := filepath.Rel(dir, filepath.Join(top, "scenarios/nominal.yaml"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(evil, fmt.Appendf(nil, markup, filepath.ToSlash(like)), 0o644))
	for _, p := range []struct {
		name string
		args []string
	}{
		{"fail", []string{"bench", "-q", "--board", "mock:ignores-tilt", "--out", out, "scenarios/staging-tilt.yaml", "scenarios/baro-jump-fast.yaml", evil}},
		{"suite", []string{"bench", "-q"}}, // many scenarios on one page
		{"fly", []string{"fly", "scenarios/as-built.yaml"}},
		{"fly-one", []string{"fly", "scenarios/vehicles/gannet.yaml", "--wind", "6 m/s"}},
		{"sweep", []string{"sweep", "-q", "scenarios/launch-day.yaml", "--flights", "40"}},
		{"hunt", []string{"hunt", "-q", "scenarios/launch-day.yaml", "--flights", "40"}},
		{"defects", []string{"defects", "-q", "--defect", "ignores-tilt", "--defect", "ignores-arming", "scenarios/staging-tilt.yaml", evil}},
		{"ready", []string{"ready", "-q", out}},
		{"examine", []string{"examine", filepath.Join(dir, "flight.csv")}},
	} {
		t.Run(p.name, func(t *testing.T) {
			file := filepath.Join(dir, p.name+".html")
			if p.name == "examine" { // a log with a finding
				code, _, errs := command(t, "show", filepath.Join(out, "baro-jump-fast.record"), "--log", filepath.Join(dir, "flight.csv"))
				require.Equal(t, passed, code, errs)
			}
			code, out, errs := command(t, append(p.args, "--html", file)...)
			require.Contains(t, []int{passed, failed, unsure}, code, out+errs)
			b.checkPage(t, "file://"+file, p.name != "suite" && p.name != "fly-one") // of the same parts as another
			t.Logf("usable after %.0f ms", ask[float64](t, b, `performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd`))
			info, err := os.Stat(file)
			require.NoError(t, err)
			assert.Less(t, info.Size(), int64(4e6), "the largest page, of the whole suite, is 3.0 MB, and grows with it")
		})
	}
	t.Run("fold", func(t *testing.T) { b.checkFold(t, filepath.Join(dir, "fail.html")) })
	t.Run("values", func(t *testing.T) {
		b.checkValues(t, filepath.Join(dir, "fail.html"), filepath.Join(out, "staging-tilt.record"))
	})
}

// checkFold wants the most dangerous finding on the first screen, in words, and the page ready for use within a second.
func (b *browser) checkFold(t *testing.T, file string) {
	for _, s := range screens {
		b.open(t, "file://"+file, s)
		assert.LessOrEqual(t, ask[float64](t, b, `document.querySelector(".danger").getBoundingClientRect().bottom`), float64(s.height), "%v", s)
		text := ask[string](t, b, `document.querySelector(".danger").textContent`)
		assert.Contains(t, text, "A motor would have been lit where it must stay dark.")
		assert.Contains(t, text, "sustainer.ignite was on at 8.885 s")
	}
}

// checkValues wants from the cursor the values of the record, before and after a closer look.
func (b *browser) checkValues(t *testing.T, file, record string) {
	rec, err := load(record)
	require.NoError(t, err)
	b.open(t, "file://"+file, screens[1])
	for _, zooms := range []int{0, 3} {
		text := ask[string](t, b, fmt.Sprintf(`new Promise(done => {
			const svg = [...document.querySelectorAll("#scenario-1 figure svg.broad[data-plot]")].find(s => s.dataset.plot.includes("felt"));
			svg.scrollIntoView();
			setTimeout(() => {
				const r = svg.getBoundingClientRect(), to = x => svg.dispatchEvent(new PointerEvent("pointermove", {clientX: r.left + x * r.width, clientY: r.top + 50}));
				to(0.5);
				for (let i = 0; i < %d; i++) svg.nextElementSibling.querySelector("button").click();
				done(svg.nextElementSibling.querySelector("span").textContent);
			}, 300);
		})`, zooms))
		var at, since float64
		text = strings.ReplaceAll(text, "\u2212", "-")
		_, err := fmt.Sscanf(text, "run %f s, launch %f s;", &at, &since)
		require.NoError(t, err, text)
		assert.InDelta(t, at-rec.Plan.Setup.Launch.Seconds(), since, 0.002, text)
		m := regexp.MustCompile(`true height ([-0-9.]+) m`).FindStringSubmatch(text)
		require.NotNil(t, m, text)
		var height float64
		_, err = fmt.Sscan(m[1], &height)
		require.NoError(t, err)
		tick, _ := slices.BinarySearch(rec.Times, sim.Seconds(at))
		assert.InDelta(t, rec.State(tick, 0).Height(), height, 2, text)
	}
	b.checkKeys(t)
	assert.Empty(t, b.errors())
}

// checkKeys moves the cursor of the page that is open by keys alone: from end to end, and by small and large steps; + looks
// closer, and an event without a name in the picture is told where the cursor meets it.
func (b *browser) checkKeys(t *testing.T) {
	said := ask[[]string](t, b, `new Promise(done => {
		const svg = [...document.querySelectorAll("#scenario-1 figure svg.broad[data-events]")][0];
		svg.scrollIntoView();
		setTimeout(() => {
			const out = [], reading = svg.nextElementSibling.querySelector("[role=status]");
			svg.focus();
			for (const key of ["Home", "ArrowRight", "Shift+ArrowRight", "End", "ArrowLeft", "+"]) {
				svg.dispatchEvent(new KeyboardEvent("keydown", {key: key.replace("Shift+", ""), shiftKey: key.startsWith("Shift"), bubbles: true, cancelable: true}));
				out.push(reading.textContent);
			}
			let event = "";
			svg.dispatchEvent(new KeyboardEvent("keydown", {key: "-"}));
			svg.dispatchEvent(new KeyboardEvent("keydown", {key: "Home"}));
			for (let i = 0; i < 200 && !event; i++) {
				svg.dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowRight"}));
				if (/liftoff \d/.test(reading.textContent)) event = reading.textContent;
			}
			done([...out, event, document.activeElement === svg ? "focused" : ""]);
		}, 300);
	})`)
	require.Len(t, said, 8)
	var at [6]float64
	for i := range at {
		_, err := fmt.Sscanf(said[i], "run %f s", &at[i])
		require.NoError(t, err, said[i])
	}
	assert.Zero(t, at[0])
	assert.InDelta(t, 10*(at[1]-at[0]), at[2]-at[1], 0.5, "%v", at)
	assert.Less(t, at[4], at[3])
	assert.InDelta(t, at[4], at[5], 0.5, "the cursor stays where it is when it looks closer")
	assert.Contains(t, said[6], "liftoff 5.", "an event in the way of the cursor")
	assert.Equal(t, "focused", said[7])
}
