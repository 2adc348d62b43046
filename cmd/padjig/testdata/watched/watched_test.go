// Package watched_test has what the race detector must see, and what it must not take for a race, in a build where
// some packages are compiled without it. TestRace is to fail, in each of its parts.
package watched_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"regexp"
	"slices"
	"sync"
	"testing"
	texts "text/template"

	"go.yaml.in/yaml/v4"
	"golang.org/x/net/html"
	"gonum.org/v1/gonum/mat"
)

type value struct{ N int }

var (
	page = template.Must(template.New("page").Parse(`<p title="{{.N}}">{{.N}}</p>`))
	text = texts.Must(texts.New("text").Parse(`{{printf "%d" .N}}`))
)

// changed is a value changed here while there something is done with it, with nothing that puts the two in an order.
func changed(there func(v *value)) [2]func() {
	v := new(value)
	return [2]func(){func() { v.N++ }, func() { there(v) }}
}

// written is a buffer written here and there.
func written(there func(to *bytes.Buffer)) [2]func() {
	to := new(bytes.Buffer)
	return [2]func(){func() { to.WriteByte('.') }, func() { there(to) }}
}

func TestRace(t *testing.T) {
	list := []int{3, 1, 2}
	for name, both := range map[string][2]func(){
		"counted": changed(func(v *value) { v.N++ }),
		"encoded": changed(func(v *value) { must(json.Marshal(v)) }),
		"decoded": changed(func(v *value) { must(0, json.Unmarshal([]byte(`{"N": 7}`), v)) }),
		"yaml":    changed(func(v *value) { must(0, yaml.Unmarshal([]byte("n: 7\n"), v)) }),
		"dumped":  changed(func(v *value) { must(yaml.Marshal(v)) }),
		"page":    changed(func(v *value) { must(0, page.Execute(new(bytes.Buffer), v)) }),
		"text":    changed(func(v *value) { must(0, text.Execute(new(bytes.Buffer), v)) }),
		"replaced": changed(func(v *value) {
			regexp.MustCompile("a").ReplaceAllStringFunc("a", func(string) string { return fmt.Sprint(v.N) })
		}),
		"buffer":  written(func(to *bytes.Buffer) { must(0, text.Execute(to, value{})) }),
		"encoder": written(func(to *bytes.Buffer) { must(0, json.NewEncoder(to).Encode(1)) }),
		"parsed":  written(func(from *bytes.Buffer) { must(html.Parse(from)) }),
		"sorted":  {func() { list[1] = 5 }, func() { slices.Sort(list) }},
	} {
		t.Run(name, func(*testing.T) {
			var all sync.WaitGroup
			for _, do := range both {
				all.Go(do)
			}
			all.Wait()
		})
	}
}

// No race are values of one's own, and what is there to be used by many at once, by all for the first time.
func TestApart(*testing.T) {
	shared := regexp.MustCompile(`[[:alpha:]]+\p{Greek}?`)
	var all sync.WaitGroup
	for n := range 8 {
		all.Go(func() {
			own := value{N: n}
			encoded := must(json.Marshal(map[string]any{"own": own, "list": []value{own}}))
			must(0, json.Unmarshal(encoded, new(map[string]any)))
			must(0, json.Unmarshal([]byte(`{"N": 7}`), &own))
			must(0, yaml.Unmarshal([]byte("n: 7\n"), &own))
			must(yaml.Marshal(&own))
			must(0, page.Execute(new(bytes.Buffer), own))
			must(0, text.Execute(new(bytes.Buffer), own))
			must(texts.New("").Parse(`{{len "a" | html}}`))
			must(template.New("").Parse(`<a href="{{.}}">`))
			must(html.Parse(bytes.NewReader([]byte("<p>&auml;"))))
			regexp.MustCompile(`\p{Greek}[[:digit:]]`).MatchString("b1")
			shared.FindString("1ab")
			var lu mat.LU
			lu.Factorize(mat.NewDense(2, 2, []float64{1, 2, 3, 5}))
		})
	}
	all.Wait()
}

func must[T any](value T, err error) T {
	if err != nil {
		panic(err)
	}
	return value
}
