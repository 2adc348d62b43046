package web

import (
	"io/fs"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/web/page"
)

// making is what the pages of a site are made of: words, files and templates. It knows
// the screen and the plant's clock, and nothing else of the site.
type making struct {
	text      page.Catalogue
	screen    legible.Screen
	zone      *time.Location
	office    bool // of a plant, and not of a station
	assets    assetFiles
	templates templates
}

func newMaking(others fs.FS, screen legible.Screen, zone *time.Location, office bool) (m *making, err error) {
	m = &making{screen: screen, zone: zone, office: office}
	if m.text, err = Texts(others); err != nil {
		return nil, err
	}
	if office {
		atOffice(m.text)
	}
	if m.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	m.assets.hold("screen.css", []byte(screen.Style()))
	m.templates, err = loadTemplates(m.text.Languages(), m.words, m.assets, office)
	return m, err
}

// officeText begins the keys of what an office says in place of a station: "office: " and the key.
const officeText = "office: "

// atOffice has the texts say what holds at an office.
func atOffice(text page.Catalogue) {
	for _, said := range text {
		for key, at := range said {
			if of, is := strings.CutPrefix(key, officeText); is {
				said[of] = at
			}
		}
	}
}

// words are those of a language, with the plant's clock.
func (m *making) words(lang string) page.Words { return page.In(lang, m.text).By(m.zone) }

// usual are those for the usual screen, by the plant's clock, each worked out once: a
// process may have many sites, and to read all templates takes longer than many a page.
var usual = map[*time.Location]func() (*making, error){time.UTC: usualBy(time.UTC), time.Local: usualBy(time.Local)}

func usualBy(zone *time.Location) func() (*making, error) {
	return sync.OnceValues(func() (*making, error) {
		screen, err := legible.Of("", "")
		if err != nil {
			return nil, err
		}
		return newMaking(nil, screen, zone, false)
	})
}

// makingFor is the usual one where that will do: without other texts.
func makingFor(others fs.FS, screen legible.Screen, zone *time.Location, office bool) (*making, error) {
	if known := usual[zone]; known != nil && others == nil && !office {
		if m, err := known(); err != nil || m.screen == screen {
			return m, err
		}
	}
	return newMaking(others, screen, zone, office)
}
