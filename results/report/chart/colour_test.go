package chart

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"padjig/results/report/pad"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// themes gives the colours of the style sheet for light, dark and print.
func themes(t *testing.T) map[string]map[string][3]float64 {
	t.Helper()
	screen, print, ok := strings.Cut(Style, "@media print")
	require.True(t, ok)
	out := map[string]map[string][3]float64{"light": {}, "dark": {}, "print": {}}
	for _, m := range regexp.MustCompile(`(--[a-z0-9-]+):\s*(?:var\(--[a-z]+, )?light-dark\(#([0-9a-f]{3,6}), #([0-9a-f]{3,6})\)`).FindAllStringSubmatch(screen, -1) {
		out["light"][m[1]], out["dark"][m[1]] = colour(t, m[2]), colour(t, m[3])
	}
	for _, m := range regexp.MustCompile(`(--[a-z0-9-]+):\s*#([0-9a-f]{3,6})\b`).FindAllStringSubmatch(print, -1) {
		out["print"][m[1]] = colour(t, m[2])
	}
	require.Len(t, out["print"], len(out["light"]), "a colour has a value in every theme")
	return out
}

func colour(t *testing.T, hex string) (c [3]float64) {
	t.Helper()
	if len(hex) == 3 {
		hex = strings.Join([]string{hex[:1], hex[:1], hex[1:2], hex[1:2], hex[2:], hex[2:]}, "")
	}
	for i := range c {
		v, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		require.NoError(t, err)
		c[i] = linear(float64(v) / 255)
	}
	return c
}

// linear undoes the sRGB transfer curve (IEC 61966-2-1, from memory).
func linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// luminance and contrast as WCAG 2 defines them (from memory).
func luminance(c [3]float64) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

func contrast(a, b [3]float64) float64 {
	high, low := luminance(a), luminance(b)
	if high < low {
		high, low = low, high
	}
	return (high + 0.05) / (low + 0.05)
}

// Text keeps 4.5:1, lines that mean something 3:1, in every theme (WCAG 2.2, 1.4.3 and 1.4.11).
func TestContrast(t *testing.T) {
	for name, c := range themes(t) {
		paper := c["--c-paper"]
		for _, text := range []string{"--c-ink", "--c-soft", "--c-data", "--c-second", "--c-third", "--c-alarm"} {
			assert.GreaterOrEqual(t, contrast(c[text], paper), 4.5, "%s: %s", name, text)
		}
		assert.GreaterOrEqual(t, contrast(c["--c-guard"], paper), 3.0, "%s: guard band", name)
		for i := range pad.Shades + 1 {
			on := "--h-dark"
			if i >= 4 {
				on = "--h-light"
			}
			if name == "print" && i == 4 {
				on = "--h-light"
			}
			step := "--h" + strconv.Itoa(i)
			assert.GreaterOrEqual(t, contrast(c[on], c[step]), 4.5, "%s: text on %s", name, step)
		}
	}
}

// The shades get steadily further from the paper, so that their order shows
// without any colour at all.
func TestShadesAreInOrderOfLightness(t *testing.T) {
	for name, c := range themes(t) {
		last := 1.0
		for i := 1; i <= pad.Shades; i++ {
			now := contrast(c["--h"+strconv.Itoa(i)], c["--c-paper"])
			assert.Greater(t, now, last*1.1, "%s: shade %d", name, i)
			last = now
		}
	}
}

// deficiencies turn colours, in linear light, into what is seen without one
// kind of cone: Machado, Oliveira and Fernandes 2009, severity 1.0 (from memory).
var deficiencies = map[string][3][3]float64{
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

func seen(m [3][3]float64, c [3]float64) (out [3]float64) {
	for i, row := range m {
		out[i] = min(max(row[0]*c[0]+row[1]*c[1]+row[2]*c[2], 0), 1)
	}
	return out
}

// lab is CIE L*a*b* under D65 of linear sRGB.
func lab(c [3]float64) [3]float64 {
	f := func(v float64) float64 {
		if v > 216./24389 {
			return math.Cbrt(v)
		}
		return (24389./27*v + 16) / 116
	}
	x := f((0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.95047)
	y := f(0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2])
	z := f((0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.08883)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

func apart(a, b [3]float64) float64 {
	p, q := lab(a), lab(b)
	return math.Hypot(math.Hypot(p[0]-q[0], p[1]-q[1]), p[2]-q[2])
}

// Colours that stand for different things stay apart without one kind of cone.
// They differ in shape besides, so this is a second means, and 20 (about nine
// times what can just be told) is enough.
func TestColoursStayApart(t *testing.T) {
	all := themes(t)
	for _, theme := range []string{"light", "dark"} {
		for _, pair := range [][2]string{{"--c-data", "--c-alarm"}, {"--c-data", "--c-second"}, {"--c-data", "--c-guard"}} {
			for name, m := range deficiencies {
				a, b := seen(m, all[theme][pair[0]]), seen(m, all[theme][pair[1]])
				assert.Greater(t, apart(a, b), 20.0, "%s, %s: %s and %s", theme, name, pair[0], pair[1])
			}
		}
	}
}
