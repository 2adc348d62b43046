package web

// allPages lists every page. A new one is a file of its own and a line here.
func allPages() []page {
	return []page{
		doorPage, lanesPage, lanePage, tagPage, codesPage,
		overviewPage, yieldPage, causesPage, chartsPage, spreadPage, capabilityPage, comparePage, gaugePage, lotsPage, shiftPage,
		limitsPage, samplingPage, retestPage,
		jigsPage, jigPage, trafficPage, productsPage, productPage,
		returnsPage, unitPage, nextCheckPage, ohmsPage, reportPage, photoPage,
	}
}

// allActions lists everything that can be done.
func allActions() []action {
	return []action{
		enterAction, leaveAction, languageAction, scanAction, stopAction, clearAction, controlAction, overrideAction,
		freezeAction, planAction, handoverAction,
		wearAction, letGoAction, checkAction, releaseAction, backAction,
		lookAction, intakeAction, disposeAction, photoAction, stageAction, nextCheckAction, ohmsAction,
	}
}

// allStreams lists the streams of events that live pages hold open.
func allStreams() []stream {
	return []stream{laneStream, lanesStream, trafficStream, ohmsStream}
}
