# Lays out one HTML page read from standard input as PDF on standard output. Run as a child:
#   /usr/bin/python3 -I -c THIS identifier
# It opens nothing the page names but data: addresses, so hostile text can reach neither files nor
# network.
import sys
import weasyprint


def fetch(url, *args, **kwargs):
    if url.startswith("data:"):
        return weasyprint.default_url_fetcher(url)
    raise ValueError("refused address")


def render(text, style):
    sheet = weasyprint.CSS(string=style, url_fetcher=fetch)
    html = weasyprint.HTML(string=text, url_fetcher=fetch, base_url=None)
    return html.render(stylesheets=[sheet])


page = sys.stdin.buffer.read().decode("utf-8")
style = ""
# Page 1 of a claim report has to hold its nine blocks: smaller by steps, tried on that page alone;
# if even the smallest does not fit, the next section follows without a break.
start = page.find('<section class="details" id="details">')
if start >= 0:
    alone = page[:start] + "</main></body></html>"
    style = ".details { break-before: auto !important }"
    for size in ["7.5pt", "7.1pt", "6.7pt", "6.3pt", "6pt"]:
        smaller = ".first { font-size: %s !important }" % size
        if len(render(alone, smaller).pages) == 1:
            style = smaller
            break
document = render(page, style)
sys.stdout.buffer.write(
    document.write_pdf(identifier=sys.argv[1].encode(), variant="pdf/a-3b", version="1.7")
)
