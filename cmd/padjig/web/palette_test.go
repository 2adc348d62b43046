package web_test

import (
	"fmt"
	"io/fs"
	"maps"
	"math"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
)

// colour is linear light: red, green, blue from 0 to 1.
type colour [3]float64

// palettes reads the colours of the style sheets by name, for each theme: dark pages have
// their own in place of some.
func palettes(t *testing.T) map[string]map[string]colour {
	t.Helper()
	light := palette(t, "static/station.css")
	dark := maps.Clone(light)
	own := palette(t, "static/dark.css")
	require.Greater(t, len(own), 10)
	for name, c := range own {
		assert.Contains(t, light, name, "a colour of dark pages that no page uses")
		dark[name] = c
	}
	return map[string]map[string]colour{"light": light, "dark": dark}
}

// palette reads the colours of a style sheet by name.
func palette(t *testing.T, file string) map[string]colour {
	t.Helper()
	raw, err := web.Assets.ReadFile(file)
	require.NoError(t, err)
	all := map[string]colour{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6});`).FindAllStringSubmatch(string(raw), -1) {
		var c [3]int
		_, err := fmt.Sscanf(m[2], "%02x%02x%02x", &c[0], &c[1], &c[2])
		require.NoError(t, err)
		all[m[1]] = colour{linear(c[0]), linear(c[1]), linear(c[2])}
	}
	return all
}

// linear undoes the sRGB curve (IEC 61966-2-1, as WCAG 2.2 writes it; from memory).
func linear(b int) float64 {
	v := float64(b) / 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// luminance is relative luminance as WCAG 2.2 defines it (from memory).
func (c colour) luminance() float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

// lightness is L* of CIE 1976 (from memory), 0 to 100.
func (c colour) lightness() float64 {
	y := c.luminance()
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

func contrast(a, b colour) float64 {
	x, y := a.luminance(), b.luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// deficiencies are full dichromacies: what is left of linear light, after
// Machado, Oliveira and Fernandes, A Physiologically-based Model for Simulation
// of Color Vision Deficiency, 2009, severity 1.0 (figures from memory; that each
// row sums to 1, so that greys stay grey, is checked below).
var deficiencies = map[string][3][3]float64{
	"none":         {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

func (c colour) seen(by [3][3]float64) colour {
	var out colour
	for i, row := range by {
		out[i] = min(max(row[0]*c[0]+row[1]*c[1]+row[2]*c[2], 0), 1)
	}
	return out
}

func TestDeficienciesLeaveGreysGrey(t *testing.T) {
	for name, m := range deficiencies {
		for _, row := range m {
			assert.InDelta(t, 1, row[0]+row[1]+row[2], 1e-5, name)
		}
	}
}

// Text stands out on what it is written on, also for the colour blind: 7 to 1
// for signals, which are read from afar, 4.5 to 1 for all else (WCAG 2.2, 1.4.3
// and 1.4.6).
func TestContrast(t *testing.T) {
	themes := palettes(t)
	for _, c := range []struct {
		on, ink string
		least   float64
	}{
		{"pass", "pass-ink", 7}, {"fail", "fail-ink", 7}, {"reseat", "reseat-ink", 7}, {"harness", "harness-ink", 7}, {"look", "look-ink", 6}, {"run", "run-ink", 6},
		{"lock", "lock-ink", 6}, {"key-good", "key-good-ink", 7}, {"key-bad", "key-bad-ink", 7}, {"card", "key-wait-ink", 4.5},
		{"bar", "bar-ink", 7}, {"field", "ink", 7}, {"card", "ink", 7}, {"hatch", "ink", 7}, {"hatch-other", "ink", 7}, {"field", "soft", 4.5},
		{"card", "mistake", 4.5}, {"paper", "mistake", 4.5}, {"paper", "focus", 3}, {"card", "focus", 3}, {"card", "warn", 3}, {"paper", "warn", 3},
		{"paper", "ink", 7}, {"card", "soft", 4.5}, {"paper", "soft", 4.5}, {"leaf", "leaf-ink", 7}, {"card", "leaf", 4.5}, {"paper", "leaf", 4.5},
	} {
		for theme, p := range themes {
			require.Contains(t, p, c.on)
			require.Contains(t, p, c.ink)
			for name, by := range deficiencies {
				got := contrast(p[c.on].seen(by), p[c.ink].seen(by))
				assert.GreaterOrEqual(t, got, c.least, "%s on %s, %s, %s", c.ink, c.on, name, theme)
			}
		}
	}
}

// No rule of a style sheet has a colour of its own: a theme changes them in one place.
func TestColoursAreProperties(t *testing.T) {
	names, err := fs.Glob(web.Assets, "static/*.css")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		raw, err := web.Assets.ReadFile(name)
		require.NoError(t, err)
		rules := regexp.MustCompile(`--[a-z-]+: [^;]*;|/\*(?s:.*?)\*/`).ReplaceAllString(string(raw), "")
		assert.Empty(t, regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b(?: *[;,)]| \d)|\b(?:white|black|red|green)\b *;`).FindAllString(rules, -1), name)
	}
}

// Any two signals differ in lightness by 12 or more, whoever looks, so that no
// two differ by hue alone. Pass and fail differ by 60.
func TestSignalsDifferInLightness(t *testing.T) {
	for theme, p := range palettes(t) {
		t.Run(theme, func(t *testing.T) { signalsDiffer(t, p) })
	}
}

func signalsDiffer(t *testing.T, p map[string]colour) {
	t.Helper()
	signals := []string{"pass", "reseat", "look", "run", "harness", "fail"}
	for name, by := range deficiencies {
		for i, a := range signals {
			for _, b := range signals[i+1:] {
				apart := math.Abs(p[a].seen(by).lightness() - p[b].seen(by).lightness())
				least := 12.0
				if a == "pass" && b == "fail" {
					least = 60
				}
				assert.GreaterOrEqual(t, apart, least, "%s and %s, %s", a, b, name)
			}
		}
	}
	good, bad := p["key-good"].lightness(), p["key-bad"].lightness()
	assert.GreaterOrEqual(t, math.Abs(good-bad), 50.0, "a good key is dark, a bad one light")
}
