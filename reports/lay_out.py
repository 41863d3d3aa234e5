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


page = sys.stdin.buffer.read().decode("utf-8")
html = weasyprint.HTML(string=page, url_fetcher=fetch, base_url=None)
document = None
# Page 1 of a claim report has to hold its nine blocks: smaller by steps, then let it run on.
sizes = ["7.5pt", "7.1pt", "6.7pt", "6.3pt", "6pt", None]
for size in sizes if 'id="details"' in page else [""]:
    style = ".first { font-size: %s !important }" % size if size else ""
    if size is None:
        style = ".details { break-before: auto !important }"
    sheet = weasyprint.CSS(string=style, url_fetcher=fetch)
    document = html.render(stylesheets=[sheet])
    if not size or (len(document.pages) > 1 and "details" in document.pages[1].anchors):
        break
sys.stdout.buffer.write(
    document.write_pdf(identifier=sys.argv[1].encode(), variant="pdf/a-3b", version="1.7")
)
