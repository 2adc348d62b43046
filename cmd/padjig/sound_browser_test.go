package main

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

// rendering plays a sound into memory and measures it: its peak, its length, and of each
// burst between silences how long it is and how often it crosses zero upwards in a second.
const rendering = `(async () => {
  const {tunes, levels, play} = await import('/static/sound.js');
  const out = [];
  for (const [level, loud] of Object.entries(levels)) for (const name of Object.keys(tunes)) {
    const rate = 44100, offline = new OfflineAudioContext(1, 2 * rate, rate);
    if (loud) play(offline, name, loud, 0.05);
    const samples = (await offline.startRendering()).getChannelData(0);
    let peak = 0, first = -1, last = -1, quiet = 0, bursts = [];
    for (let i = 0; i < samples.length; i++) {
      const v = Math.abs(samples[i]);
      peak = Math.max(peak, v);
      if (v > 0.001) {
        if (first < 0 || quiet > 0.012 * rate) bursts.push({from: i, to: i, ups: 0});
        if (first < 0) first = i;
        quiet = 0;
        last = bursts.at(-1).to = i;
        if (samples[i] > 0 && samples[i - 1] <= 0) bursts.at(-1).ups++;
      } else quiet++;
    }
    out.push({Level: level, Name: name, Peak: peak, Length: (last - first) / rate,
      Bursts: bursts.map(b => ({Long: (b.to - b.from) / rate, Pitch: b.ups * rate / (b.to - b.from)}))});
  }
  return JSON.stringify(out);
})()`

type rendered struct {
	Level, Name  string
	Peak, Length float64
	Bursts       []struct{ Long, Pitch float64 }
}

// heardApart reports what tells two sounds apart: another number of notes, a length that
// differs by a third, or a note at the same place that is three semitones off.
func heardApart(a, b rendered) (by []string) {
	if len(a.Bursts) != len(b.Bursts) {
		by = append(by, "count")
	}
	if math.Abs(math.Log(a.Length/b.Length)) > math.Log(4.0/3) {
		by = append(by, "length")
	}
	for i := range min(len(a.Bursts), len(b.Bursts)) {
		if math.Abs(math.Log2(a.Bursts[i].Pitch/b.Bursts[i].Pitch)) > 3.0/12 {
			return append(by, "pitch")
		}
	}
	return by
}

// Every sound is rendered as a browser plays it: none is silent or clipped, and any two
// differ by count, length or pitch. The button plays each with its word.
func TestPagesSounds(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	page := b.as(account.Operator, "station", "/lane/1")
	raw, err := chromedp.Run(page.ctx, chromedp.Evaluate[string](rendering, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	var all []rendered
	require.NoError(t, json.Unmarshal([]byte(raw), &all))
	require.Len(t, all, 15)
	for _, r := range all {
		if r.Level == "off" {
			assert.Zero(t, r.Peak, r.Name)
			continue
		}
		assert.Greater(t, r.Peak, 0.05, "%s, %s is silent", r.Name, r.Level)
		assert.Less(t, r.Peak, 0.9, "%s, %s is clipped", r.Name, r.Level)
		for _, other := range all {
			if other.Level == r.Level && other.Name != r.Name {
				by := heardApart(r, other)
				assert.NotEmpty(t, by, "%s and %s sound alike: %+v, %+v", r.Name, other.Name, r, other)
				if r.Name == "pass" && other.Name == "fail" {
					assert.Len(t, by, 3, "the two that matter most differ in everything")
				}
			}
		}
	}
	require.Equal(t, "3", page.eval("String(document.getElementById('sounds').textContent.trim().split(' ').length)"))
	page.eval("(globalThis.words = [], new MutationObserver(() => words.push(document.getElementById('said').textContent)).observe(document.getElementById('said'), {childList: true}), document.getElementById('sounds').click())")
	page.await("words.join(',').startsWith('PASS,FAIL,RESEAT,HARNESS GOOD,LOOK HERE')")
}
