// Pictures below the fold are fetched once the page is read, so that printing it leaves none out:
// what is still awaited when a page is printed comes out as an empty frame.

const QUIET_MS = 800; // after the page is whole: what a person asks for comes first

const fetchAll = () => {
  for (const image of document.querySelectorAll('img[loading="lazy"]')) image.loading = "eager";
};

const later = () => setTimeout(fetchAll, QUIET_MS);
if (document.readyState === "complete") later();
else addEventListener("load", later);
addEventListener("beforeprint", fetchAll);
