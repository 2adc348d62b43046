package pad

import (
	"encoding/xml"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/product"
)

// wired is the pad of a product after a run with these findings; every key on a line of
// them has failed.
func wired(t *testing.T, name string, findings ...sequence.Finding) Pad {
	t.Helper()
	file := "../../../testdata/products/" + name
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	p, err := product.Parse(file, text)
	require.NoError(t, err)
	var run []sequence.KeyResult
	for _, k := range p.Keys {
		r := sequence.KeyResult{Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: sequence.KeyPass}
		if findingOf(findings, r) > 0 {
			r.Verdict = sequence.KeyFail
		}
		run = append(run, r)
	}
	drawn := OfRun(p.Keys, run, findings)
	drawn.Pin = "pin"
	return drawn
}

// A row that is broken and two columns that are shorted are drawn along their keys, with
// name and pin, on every surface; a line that all keys share, on each row.
func TestTracksAreDrawn(t *testing.T) {
	matrix := wired(t, "gcc-20.yaml", sequence.Finding{What: "line broken", Lines: []string{"R3"}, Pins: []int{3}},
		sequence.Finding{What: "lines shorted", Lines: []string{"C1", "C2"}, Pins: []int{6, 7}}, sequence.Finding{What: "key open", Key: "OK", Lines: []string{"R5", "C4"}})
	common := wired(t, "vent-6.yaml", sequence.Finding{What: "line open", Lines: []string{"COM"}, Pins: []int{7}})
	for name, p := range map[string]Pad{"gcc-20-tracks": matrix, "vent-6-tracks": common} {
		for kind, got := range map[string]string{"text.txt": p.Text(), "live.svg": string(p.Live()), "printed.svg": string(p.Printed())} {
			file := "testdata/" + name + "-" + kind
			if *update {
				require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err)
			assert.Equal(t, string(want), got, file)
		}
	}
	assert.Contains(t, matrix.Text(), "✗1 R3, pin 3: 7 8 9 MIST")
	assert.Contains(t, matrix.Text(), "✗2 C2, pin 7: 2 5 8 0 >")
	for _, svg := range []string{string(matrix.Live()), string(matrix.Printed())} {
		for _, name := range []string{">R3<", ">pin 3<", ">C1 pin 6<", ">C2 pin 7<"} {
			assert.Contains(t, svg, name)
		}
		assert.Equal(t, 3, strings.Count(svg, `<g class="track">`))
		require.NoError(t, xml.Unmarshal([]byte(svg), new(struct{})))
	}
	assert.Len(t, common.Tracks, 1)
	assert.Len(t, common.Tracks[0].Keys, 5)
}

// A key says what was read and which finding it failed for, both; and room for lines is
// kept from the start, so that nothing moves when one is found.
func TestTheNumberReplacesNoReading(t *testing.T) {
	p := wired(t, "gcc-20.yaml", sequence.Finding{What: "key high", Key: "7", Lines: []string{"R3", "C1"}})
	p.Lined = true
	for i := range p.Keys {
		p.Keys[i].Now = "640 Ω"
	}
	var before, after struct {
		Box string `xml:"viewBox,attr"`
	}
	svg := string(p.Live())
	assert.Equal(t, len(p.Keys), strings.Count(svg, ">640 Ω<"))
	assert.Contains(t, svg, `>640 Ω</text><text class="number"`)
	require.NoError(t, xml.Unmarshal([]byte(svg), &before))
	p.Tracks = []Track{{Name: "R3", Pin: 3, Defect: 1, Keys: []int{8, 9}}}
	require.NoError(t, xml.Unmarshal([]byte(p.Live()), &after))
	assert.Equal(t, before, after)
}

// A tail the wrong way round concerns every line, and draws none.
func TestNoTracksOfEverything(t *testing.T) {
	p := wired(t, "gcc-20.yaml", sequence.Finding{What: "tail reversed", Lines: []string{"R1", "R2", "R3", "R4", "R5"}})
	assert.Empty(t, p.Tracks)
	assert.NotContains(t, p.Text(), ":")
}
