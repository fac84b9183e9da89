"""A page of ours, open in the browser, and what may be asked of it."""

import base64
import json


class Page:
    """A browser with a page of ours open, and what may be asked of it."""

    def __init__(self, browser, path):
        self.browser, self.path = browser, path
        self.took = browser.open(path)
        browser.settle()

    def value(self, element):
        return self.browser.run(f"document.getElementById('{element}').value")

    def text(self, element):
        return self.browser.run(f"document.getElementById('{element}').textContent")

    def slide(self, element, value):
        """Sets a slider, as a hand would."""
        self.browser.run(
            f"(() => {{ const slider = document.getElementById('{element}');"
            f" slider.value = {value}; slider.dispatchEvent(new Event('input')); }})()"
        )
        self.browser.settle()

    def hidden(self, element):
        return self.browser.run(f"document.getElementById('{element}').hidden")

    def click(self, selector):
        self.browser.run(f"document.querySelector({selector!r}).click()")
        self.browser.settle()

    def middle(self):
        return self.browser.run(
            "(() => { const b = document.getElementById('work').getBoundingClientRect(); "
            "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )

    def drawn(self):
        return json.loads(self.browser.run("document.getElementById('work').dataset.drawn"))

    def stage(self):
        # A picture at rest is drawn finely.
        self.browser.run("new Promise((done) => setTimeout(done, 300))")
        self.browser.settle()
        box = self.browser.run(
            "(() => { const b = document.getElementById('stage').getBoundingClientRect(); "
            "return {x: b.x, y: b.y, width: b.width, height: b.height, scale: 1}; })()"
        )
        return base64.b64decode(
            self.browser.call("Page.captureScreenshot", format="png", clip=box)["data"]
        )
