"use strict"
// What others change, live sliders, the pot-life clock. Every page works without.

const main = document.getElementById("main")
const news = document.getElementById("news")

let touched = false
document.addEventListener("input", () => { touched = true })

// load fetches a page and puts its main part in the place of this one's.
async function load(address) {
	const answer = await fetch(address)
	if (answer.redirected) { // it is somewhere else now
		location.replace(answer.url)
		return true
	}
	const page = new DOMParser().parseFromString(await answer.text(), "text/html")
	const next = page.getElementById("main")
	if (!answer.ok || !next) return false
	main.replaceChildren(...next.childNodes)
	document.body.dataset.head = page.body.dataset.head
	begin()
	return true
}

// changed tells what somebody stored: the page shows it at once, or where
// something is being typed says so. Of many pages that are open each waits a moment
// of its own before it asks, so that they do not all ask together; what is told
// meanwhile is shown with it.
let due = 0
async function changed(event) {
	const told = JSON.parse(event.data)
	if (!told.id || told.id <= Number(document.body.dataset.head)) return
	document.body.dataset.head = told.id
	if (main.dataset.live === "no") return
	const mine = ++due
	await new Promise(done => setTimeout(done, 500 * Math.random()))
	if (mine !== due) return
	const busy = touched || main.contains(document.activeElement) && document.activeElement !== main
	say(told.text, busy || !await load(location.href).catch(() => false))
}

function say(text, offer) {
	news.replaceChildren(text + " ")
	if (offer) {
		const again = document.createElement("a")
		again.href = location.href
		again.textContent = "Show it"
		news.append(again)
	}
	news.hidden = false
}

// sliders ask for the colour of what they stand at, one question at a time: what
// they were moved to meanwhile is asked next.
function sliders(form) {
	let moved = 0, answered = 0, asking = false
	const ask = async () => {
		moved++
		if (asking) return
		asking = true
		try {
			while (answered < moved) {
				const mine = moved
				const query = new URLSearchParams(new FormData(form))
				const began = performance.now()
				const answer = await fetch("/mix/color?" + query)
				const text = await answer.text()
				answered = mine
				const place = document.getElementById("mixed")
				const page = new DOMParser().parseFromString(text, "text/html")
				place.replaceChildren(...page.body.childNodes)
				place.dataset.ms = (performance.now() - began).toFixed(1)
				place.dataset.asked = mine
			}
		} finally { // the server was not heard; the next move asks again
			asking = false
		}
	}
	form.addEventListener("input", event => {
		const twin = form.querySelector('[data-twin="' + CSS.escape(event.target.id) + '"]') || document.getElementById(event.target.dataset.twin)
		if (twin) twin.value = event.target.value
		ask()
	})
}

// clock counts a pot life down, and is heard when it ends.
function clock(place) {
	const ends = Number(place.dataset.ends) * 1000
	let heard = 0
	const tick = () => {
		if (!place.isConnected) return clearInterval(timer)
		const left = Math.ceil((ends - Date.now()) / 1000)
		const sign = left < 0 ? "-" : ""
		const s = Math.abs(left)
		place.querySelector("b").textContent = sign + Math.floor(s / 60) + ":" + String(s % 60).padStart(2, "0")
		place.classList.toggle("over", left <= 0)
		if ((left === 60 || left <= 0) && Date.now() - heard > 5000 && left > -60) {
			heard = Date.now()
			place.dataset.heard = String(Number(place.dataset.heard || 0) + 1)
			beep(left <= 0 ? 3 : 1)
		}
	}
	const timer = setInterval(tick, 250)
	tick()
}

function beep(times) {
	const Sound = window.AudioContext || window.webkitAudioContext
	if (!Sound) return
	const out = new Sound()
	for (let i = 0; i < times; i++) {
		const tone = out.createOscillator()
		tone.frequency.value = 880
		tone.connect(out.destination)
		tone.start(out.currentTime + 0.4 * i)
		tone.stop(out.currentTime + 0.4 * i + 0.25)
	}
}

// begin makes what is on the page live.
function begin() {
	const form = document.getElementById("mix")
	if (form) sliders(form)
	const running = document.getElementById("clock")
	if (running) clock(running)
	const work = document.getElementById("work")
	if (work) follow(work)
}

// follow looks again how far a work is, until its result is there.
function follow(work) {
	setTimeout(async () => {
		if (!work.isConnected) return
		try {
			if (!await load(location.href)) location.reload()
		} catch { // the server is not heard
			follow(work)
		}
	}, 700)
}

// a button that was pressed waits for its answer
document.addEventListener("submit", event => {
	const button = event.submitter
	if (button) setTimeout(() => { button.disabled = true; setTimeout(() => { button.disabled = false }, 8000) })
})
addEventListener("pageshow", () => { for (const b of document.querySelectorAll("button:disabled")) b.disabled = false })

// A browser keeps few connections to a place: only the page that is looked at
// listens.
let stream = null
function listen() {
	const here = document.visibilityState === "visible"
	if (here && !stream) {
		stream = new EventSource("/changes?after=" + document.body.dataset.head)
		stream.onmessage = changed
	} else if (!here && stream) {
		stream.close()
		stream = null
	}
}

begin()
if (document.body.dataset.head) {
	listen()
	document.addEventListener("visibilitychange", listen)
	addEventListener("pagehide", () => { if (stream) stream.close(); stream = null })
	addEventListener("pageshow", listen)
}
