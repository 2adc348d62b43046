package main

import (
	"bytes"
	"cmp"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The pictures of the manual. A test that reaches a state worth looking at calls state, or
// shot where its accessibility is of no matter; asked for pictures (make screens), it keeps
// the state at every size, light and dark, as NAME-SIZE-THEME.png, without asking the
// station for anything: the page is made another size, and stands still meanwhile.
var (
	screens    = flag.String("screens", "", "folder to put pictures of the pages into")
	wholePages = flag.Bool("wholepages", false, "pictures show the whole page, not what the screen shows of it")
)

var (
	pictureSizes  = []string{"station", "laptop", "phone"}
	pictureThemes = []string{"light", "dark"}
)

// state is a state of a page worth looking at: it is kept as pictures, and checked as it is.
func (t *tab) state(name string) {
	t.Helper()
	t.shot(name)
	t.check(name)
}

// check looks for text that is not in the catalogue, and for what keeps anybody from using it.
func (t *tab) check(name string) {
	t.Helper()
	assert.NotContains(t, t.text("body"), "⟦", "%s: text that is not in the catalogue", name)
	assert.Empty(t, t.violations(), name)
}

// shot keeps the state the page is in as pictures when the tests were asked for them. The page
// is as it was before.
func (t *tab) shot(name string) {
	t.Helper()
	if *screens == "" {
		return
	}
	size := t.size
	t.eval("globalThis.hold?.(true)")
	for _, s := range pictureSizes {
		t.resize(s)
		for _, theme := range pictureThemes {
			t.themed(theme)
			t.eval("dispatchEvent(new Event('resize'))") // a page behind another hears of its size with its next picture only
			t.picture(filepath.Join(*screens, name+"-"+s+"-"+theme+".png"))
		}
	}
	t.themed("")
	t.resize(size)
	t.eval("globalThis.hold?.(false)")
}

// themed is a browser that prefers a theme, as far as nobody has chosen one on the page; empty
// for what it is.
func (t *tab) themed(theme string) {
	t.Helper()
	var features []*emulation.MediaFeature
	if theme != "" {
		features = []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}, {Name: "prefers-reduced-motion", Value: "reduce"}}
	}
	_, err := chromedp.Call(t.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
	require.NoError(t, err)
}

// holding lets a page stand still for its pictures while a unit goes on: what the station
// sends is taken afterwards, but the beat that says it is there; and however long the pictures
// take, no stream is missed meanwhile.
const holding = `(() => {
  const listen = EventSource.prototype.addEventListener, later = setTimeout, kept = [];
  let held = false;
  globalThis.hold = yes => {
    held = yes;
    if (!held) for (const take of kept.splice(0)) take();
  };
  globalThis.setTimeout = (take, ms, ...rest) => later((...all) => { if (!held || ms < 5000) take(...all); }, ms, ...rest);
  EventSource.prototype.addEventListener = function(name, take) {
    listen.call(this, name, event => held && name !== 'still' ? kept.push(() => take(event)) : take(event));
  };
})()`

// holdable makes the pages of a tab stand still for pictures.
func (t *tab) holdable() {
	t.Helper()
	if *screens == "" {
		return
	}
	_, err := chromedp.Call(t.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: holding})
	require.NoError(t, err)
}

// picture keeps what the page shows as a small PNG.
func (t *tab) picture(path string) {
	t.Helper()
	take := chromedp.CaptureScreenshot()
	if *wholePages {
		take = chromedp.FullScreenshot(100)
	}
	raw, err := chromedp.Run(t.ctx, take)
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, compact(t, raw), 0o644))
}

// Of a picture's colours so many are kept, each at least so far from the others.
const (
	mostColours = 128
	leastApart  = 8
)

// compact is a picture in few colours: those of areas and letters stay what they are, and the
// many between them at the edges of letters go to the nearest. It takes a fifth of the room.
func compact(t testing.TB, raw []byte) []byte {
	decoded, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	size := decoded.Bounds()
	full := image.NewRGBA(size)
	draw.Draw(full, size, decoded, size.Min, draw.Src)
	at := func(i int) color.RGBA { return color.RGBA{full.Pix[i], full.Pix[i+1], full.Pix[i+2], full.Pix[i+3]} }
	often := map[color.RGBA]int{}
	for i := 0; i < len(full.Pix); i += 4 {
		often[at(i)]++
	}
	all := slices.SortedFunc(maps.Keys(often), func(a, b color.RGBA) int {
		return cmp.Or(often[b]-often[a], int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B))
	})
	var kept color.Palette
	nearest := map[color.RGBA]uint8{}
	for _, c := range all {
		if len(kept) < mostColours && (len(kept) == 0 || apart(c, kept[kept.Index(c)].(color.RGBA)) >= leastApart) {
			kept = append(kept, c)
		}
	}
	for _, c := range all {
		nearest[c] = uint8(kept.Index(c))
	}
	few := image.NewPaletted(size, kept)
	for i := range few.Pix {
		few.Pix[i] = nearest[at(4*i)]
	}
	var out bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, few))
	return out.Bytes()
}

// apart is how far two colours are from each other in the part where they differ most.
func apart(a, b color.RGBA) int {
	part := func(x, y uint8) int { return max(int(x)-int(y), int(y)-int(x)) }
	return max(part(a.R, b.R), part(a.G, b.G), part(a.B, b.B))
}
